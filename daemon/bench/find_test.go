package bench_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/bench"
)

func TestFind(t *testing.T) {
	s := bench.NewStore(t.TempDir())
	_, err := s.Find("last")
	require.ErrorContains(t, err, "no test")
	began := time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)
	for i, id := range []string{"20260504-093000-shop", "20260504-110000-shop", "20260601-080000-shop"} {
		require.NoError(t, s.Save(&bench.Record{Version: 1, ID: id, Began: began.Add(time.Duration(i) * time.Hour)}))
	}
	for word, want := range map[string]string{
		"last": "20260601-080000-shop", "202606": "20260601-080000-shop", "20260504-09": "20260504-093000-shop", "20260504-110000-shop": "20260504-110000-shop",
	} {
		r, err := s.Find(word)
		require.NoError(t, err, word)
		require.Equal(t, want, r.ID)
	}
	_, err = s.Find("20260504")
	require.ErrorContains(t, err, "20260504-093000-shop or 20260504-110000-shop")
	for _, word := range []string{"", "1999", "../x"} {
		_, err = s.Find(word)
		require.Error(t, err, word)
	}
}
