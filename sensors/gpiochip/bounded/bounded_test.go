package bounded_test

import (
	"errors"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/sensors/gpiochip/bounded"
)

func TestInTimeGivesTheResult(t *testing.T) {
	var s bounded.Slot
	v, err := bounded.Do(&s, time.Second, func() (int, error) { return 7, nil }, nil)
	require.NoError(t, err)
	require.Equal(t, 7, v)
	broken := errors.New("broken")
	_, err = bounded.Do(&s, time.Second, func() (int, error) { return 0, broken }, nil)
	require.ErrorIs(t, err, broken)
	_, err = bounded.Do(&s, time.Second, func() (int, error) { panic("oh") }, nil)
	require.ErrorContains(t, err, "the call broke: oh")
	_, err = bounded.Do(&s, time.Second, func() (int, error) { return 1, nil }, nil)
	require.NoError(t, err, "a panic must free the slot")
}

func TestAHungCallIsAbandonedOnceAndItsResultClosed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var s bounded.Slot
		var started, closed atomic.Int32
		hang := func() (int, error) { started.Add(1); time.Sleep(10 * time.Second); return 42, nil }
		begin := time.Now()
		_, err := bounded.Do(&s, time.Second, hang, func(v int) { closed.Store(int32(v)) })
		require.ErrorIs(t, err, bounded.ErrLate)
		require.Equal(t, time.Second, time.Since(begin))
		for range 100 {
			_, err = bounded.Do(&s, time.Second, hang, nil)
			require.ErrorIs(t, err, bounded.ErrBusy)
		}
		require.Equal(t, time.Second, time.Since(begin), "busy answers at once")
		require.EqualValues(t, 1, started.Load())
		time.Sleep(9 * time.Second)
		synctest.Wait()
		require.EqualValues(t, 42, closed.Load())
		_, err = bounded.Do(&s, time.Second, func() (int, error) { return 0, nil }, nil)
		require.NoError(t, err, "the slot is free again")
	})
}
