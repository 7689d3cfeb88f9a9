package checklist_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/checklist"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// What the trade expects before the start: common practice, no source.
func TestDefaultHasWhatTheTradeExpects(t *testing.T) {
	always := []string{"Oil", "Inlet filter", "Supply run", "Supply hose", "Air purged", "first bend", "Goggles"}
	for engine, more := range map[bool][]string{false: {"GFCI", "Cord"}, true: {"exhaust", "Carbon monoxide"}} {
		l := checklist.Default(engine)
		require.NoError(t, l.Validate())
		text := l.String()
		for _, want := range append(append([]string{}, always...), more...) {
			require.Contains(t, text, want, "engine %v", engine)
		}
		for _, it := range l.Items {
			require.NotEmpty(t, it.Why, it.Text)
		}
	}
	require.NotContains(t, checklist.Default(false).String(), "exhaust")
	require.NotContains(t, checklist.Default(true).String(), "GFCI")
}

func TestParse(t *testing.T) {
	for _, c := range []struct {
		name, text, want string // want of the error
		items            []checklist.Item
	}{
		{"points and reasons", "Oil | it seizes\r\n\n  Filter  clean \n", "", []checklist.Item{{Text: "Oil", Why: "it seizes"}, {Text: "Filter clean"}}},
		{"nothing", " \n\n", "1 to 40", nil},
		{"a reason alone", "Oil\n | why", "line 2", nil},
		{"too long", strings.Repeat("x", 121), "line 1 is too long", nil},
		{"twice", "Oil\nOil", "twice", nil},
		{"too many", strings.Repeat("a\nb\n", 1) + numbered(40), "1 to 40", nil},
		{"control characters", "Oi\x00l\x07", "", []checklist.Item{{Text: "Oil"}}},
	} {
		l, err := checklist.Parse(c.text)
		if c.want != "" {
			require.ErrorContains(t, err, c.want, c.name)
			continue
		}
		require.NoError(t, err, c.name)
		require.Equal(t, c.items, l.Items, c.name)
	}
}

func numbered(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(strings.Repeat("i", i+1) + "\n")
	}
	return b.String()
}

// Whatever is a list is the same after it was shown for editing and sent back.
func TestEditingChangesNothingByItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, err := checklist.Parse(rapid.String().Draw(t, "text"))
		if err != nil {
			t.Skip()
		}
		again, err := checklist.Parse(l.String())
		require.NoError(t, err)
		require.Equal(t, l, again)
	})
}

func TestRound(t *testing.T) {
	l := checklist.List{Items: []checklist.Item{{Text: "Oil"}, {Text: "Filter"}, {Text: "Exhaust"}}}
	r, err := l.Go([]checklist.Mark{checklist.Done, checklist.Open, checklist.NotHere}, "Ada", " all\nelse fine", noon)
	require.NoError(t, err)
	require.False(t, r.Whole())
	require.Equal(t, "1 of 3 points confirmed. Not confirmed: Filter. Not on this machine or job: Exhaust. Confirmed: Oil. Remark: all else fine", r.Words())
	r, err = l.Go([]checklist.Mark{checklist.Done, checklist.Done, checklist.NotHere}, "Ada", "", noon)
	require.NoError(t, err)
	require.True(t, r.Whole())
	_, err = l.Go(nil, "Ada", "", noon)
	require.ErrorContains(t, err, "changed meanwhile")
	_, err = l.Go(make([]checklist.Mark, 3), "Ada", strings.Repeat("x", 501), noon)
	require.ErrorContains(t, err, "too long")
	require.False(t, (&checklist.Round{}).Whole(), "nothing is not all")
}

func TestKeeper(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "state")
	k := checklist.NewKeeper(dir, true)
	l, err := k.List()
	require.NoError(t, err)
	require.Equal(t, checklist.Default(true), l)
	_, ok, err := k.Last()
	require.NoError(t, err)
	require.False(t, ok)

	mine := checklist.List{Items: []checklist.Item{{Text: "Oil"}}}
	require.Error(t, k.SetList(checklist.List{}))
	require.NoError(t, k.SetList(mine))
	r, err := mine.Go([]checklist.Mark{checklist.Done}, "Ada", "", noon)
	require.NoError(t, err)
	require.NoError(t, k.SetLast(r))
	again := checklist.NewKeeper(dir, true)
	l, err = again.List()
	require.NoError(t, err)
	require.Equal(t, mine, l)
	last, ok, err := again.Last()
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, r, last)

	// A file that somebody spoilt costs the list and never the page.
	require.NoError(t, os.WriteFile(filepath.Join(dir, "checklist.json"), []byte(`{"items":[{"text":"a"},{"text":"a"}]}`), 0o644))
	l, err = again.List()
	require.ErrorContains(t, err, "twice")
	require.Equal(t, checklist.Default(true), l)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "checklist_last.json"), []byte(`{`), 0o644))
	_, ok, err = again.Last()
	require.ErrorContains(t, err, "checklist_last.json")
	require.False(t, ok)
}

func FuzzParse(f *testing.F) {
	f.Add("Oil | it seizes\nFilter")
	f.Add("|\n||")
	f.Fuzz(func(t *testing.T, text string) {
		l, err := checklist.Parse(text)
		if err != nil {
			return
		}
		require.NoError(t, l.Validate())
	})
}
