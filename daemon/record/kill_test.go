package record

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// childDir is the variable that makes TestKilledChild the child of
// TestNothingSyncedIsLostByKill.
const childDir = "HEADROOM_RECORD_CHILD"

// TestKilledChild records as fast as it can and says what it has synced, until
// it is killed.
func TestKilledChild(t *testing.T) {
	dir := os.Getenv(childDir)
	if dir == "" {
		t.Skip("runs only as a child of TestNothingSyncedIsLostByKill")
	}
	r, err := Open(dir, Options{SegmentBytes: 20_000})
	require.NoError(t, err)
	g := newRig(t)
	events := 0
	for {
		k := g.next()
		require.NoError(t, k.appendTo(r))
		if events += len(k.v.Transitions()); g.n%7 == 0 {
			require.NoError(t, r.Sync())
			fmt.Printf("synced %d %d %d\n", r.Boot(), g.n, events)
		}
	}
}

// TestNothingSyncedIsLostByKill kills a recording process at random instants,
// again and again over the same folder.
func TestNothingSyncedIsLostByKill(t *testing.T) {
	dir := t.TempDir()
	rounds := 6
	if testing.Short() {
		rounds = 2
	}
	for round := range rounds {
		boot, frames, changes := killOne(t, dir)
		require.EqualValues(t, round+1, boot)
		at, got, _ := exported(t, dir, boot)
		require.GreaterOrEqual(t, len(got), frames)
		g := newRig(t)
		for i := range got {
			k := g.next()
			require.Equal(t, k.t, at[i])
			require.Equal(t, k.raw, got[i])
		}
		events, _, err := Events(dir, boot)
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(events), changes)
	}
	runs, err := List(dir)
	require.NoError(t, err)
	require.Len(t, runs, rounds)
}

// killOne returns the last that the child said was synced.
func killOne(t *testing.T, dir string) (boot uint64, frames, changes int) {
	t.Helper()
	child := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^TestKilledChild$")
	child.Env = append(os.Environ(), childDir+"="+dir)
	out, err := child.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, child.Start())
	var timer *time.Timer
	in := bufio.NewScanner(out)
	for in.Scan() {
		if n, _ := fmt.Sscanf(in.Text(), "synced %d %d %d", &boot, &frames, &changes); n == 3 && timer == nil {
			timer = time.AfterFunc(time.Duration(rand.IntN(60_000))*time.Microsecond, func() {
				_ = child.Process.Kill() // SIGKILL: no handler, no farewell
			})
		}
	}
	require.Error(t, child.Wait(), "the child ends by the kill only")
	require.NotNil(t, timer, "the child said nothing")
	return boot, frames, changes
}
