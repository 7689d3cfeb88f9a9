package record

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

func TestRecordListExport(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "record")
	r, err := Open(dir, Options{Info: testInfo})
	require.NoError(t, err)
	g := newRig(t)
	var want []frame.Frame
	for range 25 {
		k := g.next()
		require.NoError(t, k.appendTo(r))
		want = append(want, k.raw)
	}
	require.NoError(t, r.Close())
	require.NoError(t, r.Close(), "closing twice is nothing")
	require.ErrorContains(t, r.Append(time.Hour, startWall, &want[0], nil), "closed")

	runs, err := List(dir)
	require.NoError(t, err)
	require.Len(t, runs, 1)
	size := runs[0].Bytes
	require.Positive(t, size)
	info := testInfo
	info.Boot = 1
	require.Equal(t, Run{
		Info: info, Segments: 1, Bytes: size, HasFrames: true,
		From: 100 * time.Millisecond, To: 2500 * time.Millisecond,
		FromWall: startWall.Add(100 * time.Millisecond), ToWall: startWall.Add(2500 * time.Millisecond),
	}, runs[0])

	at, frames, rep := exported(t, dir, 1)
	require.Equal(t, want, frames)
	require.Equal(t, Report{Rows: 25}, rep)
	require.Equal(t, 100*time.Millisecond, at[0], "monotonic time as recorded")

	var part bytes.Buffer
	rep, err = Export(&part, dir, 1, 500*time.Millisecond, 700*time.Millisecond)
	require.NoError(t, err)
	require.EqualValues(t, 3, rep.Rows)

	got, rep, err := Events(dir, 1)
	require.NoError(t, err)
	require.Empty(t, rep.Problems)
	require.Len(t, got, 4, "up at 10 and 20, back at 11 and 21")
	require.Equal(t, Event{
		Boot: 1, TNs: 1e9, Wall: startWall.Add(time.Second), Alarm: "sensor.flow", Raised: true,
		Level: "warning", OnsetNs: 1e9, First: true, Machine: got[0].Machine, Status: "failed",
	}, got[0])
	require.False(t, got[1].Raised)
}

// TestSegmentIsReplayableAsItIs: a segment is a whole recording with its head.
func TestSegmentIsReplayableAsItIs(t *testing.T) {
	dir := t.TempDir()
	r, err := Open(dir, Options{Info: testInfo})
	require.NoError(t, err)
	k := newRig(t).next()
	require.NoError(t, k.appendTo(r))
	require.NoError(t, r.Sync())
	in, err := os.Open(filepath.Join(dir, "boot-000001", "frames-0001.csv"))
	require.NoError(t, err)
	defer in.Close()
	rd, err := csvfile.NewReader(in, "segment", csvfile.Map{}, csvfile.Options{Strict: true})
	require.NoError(t, err)
	require.Equal(t, csvfile.About{Software: "0.0.0-test", Config: "9f86d081884c7d65", Machine: "trailer 2, invented", Boot: 1}, rd.About())
	var f frame.Frame
	at, wall, err := rd.Next(&f)
	require.NoError(t, err)
	require.Equal(t, k.t, at)
	require.True(t, k.wall.Equal(wall))
	require.Equal(t, k.raw, f)
	require.NoError(t, r.Close())
}

func TestBootNumbersNeverRepeat(t *testing.T) {
	dir := t.TempDir()
	number := filepath.Join(dir, bootNumberName)
	for i, spoil := range []func(){
		func() {},
		func() {},
		func() { require.NoError(t, os.Remove(number)) },
		func() { require.NoError(t, os.WriteFile(number, []byte("rubbish"), 0o644)) },
		func() { require.NoError(t, os.WriteFile(number, nil, 0o644)) },
		func() { require.NoError(t, os.RemoveAll(filepath.Join(dir, "boot-000005"))) },
	} {
		spoil()
		r, err := Open(dir, Options{})
		require.NoError(t, err)
		require.EqualValues(t, i+1, r.Boot())
		require.NoError(t, r.Close())
	}
}

func TestTimeThatStandsStillIsPassedOver(t *testing.T) {
	dir := t.TempDir()
	r, err := Open(dir, Options{})
	require.NoError(t, err)
	k := newRig(t).next()
	for range 3 {
		require.NoError(t, k.appendTo(r))
	}
	require.NoError(t, r.Close())
	at, _, _ := exported(t, dir, 1)
	require.Equal(t, []time.Duration{k.t}, at)
}

func TestNewColumnsBeginANewSegment(t *testing.T) {
	dir := t.TempDir()
	r, err := Open(dir, Options{})
	require.NoError(t, err)
	g := newRig(t)
	var want []frame.Frame
	for i := range 6 {
		k := g.next()
		if i >= 3 {
			k.raw.Set(frame.Vibration, 2)
		}
		if i >= 4 {
			k.raw.Samples[frame.InletPressure] = frame.Sample{}
		}
		require.NoError(t, k.appendTo(r))
		want = append(want, k.raw)
	}
	require.NoError(t, r.Close())
	all, err := segments(osFS{}, bootFolder(dir, 1))
	require.NoError(t, err)
	require.Equal(t, []uint64{1, 2}, all, "a channel that is gone needs no new segment")
	_, frames, rep := exported(t, dir, 1)
	require.Equal(t, want, frames)
	require.Empty(t, rep.Problems)
}

// TestTornTails cuts the files of a run at every byte: what was whole stays
// readable, and a cut inside a line is reported.
func TestTornTails(t *testing.T) {
	dir := t.TempDir()
	r, err := Open(dir, Options{})
	require.NoError(t, err)
	g := newRig(t)
	for range 12 {
		k := g.next()
		require.NoError(t, k.appendTo(r))
	}
	require.NoError(t, r.Close())
	segment := filepath.Join(bootFolder(dir, 1), segmentName(1))
	whole, err := os.ReadFile(segment)
	require.NoError(t, err)
	head := bytes.Index(whole, []byte("t_ns"))
	head += bytes.IndexByte(whole[head:], '\n') + 1
	for n := len(whole); n >= head; n-- {
		require.NoError(t, os.Truncate(segment, int64(n)))
		at, _, rep := exported(t, dir, 1)
		require.Len(t, at, bytes.Count(whole[head:n], []byte("\n")))
		if torn := whole[n-1] != '\n'; torn {
			require.Len(t, rep.Problems, 1)
			require.Contains(t, rep.Problems[0], "cut off")
		} else {
			require.Empty(t, rep.Problems)
		}
	}
	// A tail of zeros is what some file systems leave.
	require.NoError(t, os.WriteFile(segment, append(whole[:len(whole):len(whole)], make([]byte, 5000)...), 0o644))
	at, _, rep := exported(t, dir, 1)
	require.Len(t, at, 12)
	require.Len(t, rep.Problems, 1)

	log := filepath.Join(bootFolder(dir, 1), eventsName)
	text, err := os.ReadFile(log)
	require.NoError(t, err)
	lines := strings.SplitAfter(string(text), "\n")
	require.NoError(t, os.WriteFile(log, []byte(lines[0]+lines[1][:10]+"\n"+lines[0]+lines[1]+lines[1][:20]), 0o644))
	got, rep, err := Events(dir, 1)
	require.NoError(t, err)
	require.Len(t, got, 2, "the one written twice counts once")
	require.EqualValues(t, 2, rep.Damaged)
	require.Contains(t, rep.Problems[0], "events.jsonl:2")
}

func TestEmptyAndUnreadableSegments(t *testing.T) {
	dir := t.TempDir()
	r, err := Open(dir, Options{})
	require.NoError(t, err)
	k := newRig(t).next()
	require.NoError(t, k.appendTo(r))
	require.NoError(t, r.Close())
	folder := bootFolder(dir, 1)
	require.NoError(t, os.WriteFile(filepath.Join(folder, segmentName(2)), nil, 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(folder, segmentName(3)), []byte("rubbish\n"), 0o644))
	at, _, rep := exported(t, dir, 1)
	require.Equal(t, []time.Duration{k.t}, at)
	require.Len(t, rep.Problems, 2)
	runs, err := List(dir)
	require.NoError(t, err)
	require.Contains(t, runs[0].Problem, segmentName(3))
	require.Equal(t, k.t, runs[0].To)

	_, err = Export(&bytes.Buffer{}, dir, 9, 0, 0)
	require.ErrorContains(t, err, "run 9")
	_, _, err = Events(dir, 9)
	require.ErrorContains(t, err, "run 9")
}

func TestListReadsLongSegmentsByTheirEnds(t *testing.T) {
	dir := t.TempDir()
	r, err := Open(dir, Options{SegmentBytes: 3 * tailBytes})
	require.NoError(t, err)
	g := newRig(t)
	var last tick
	for range 5000 {
		last = g.next()
		require.NoError(t, last.appendTo(r))
		if g.n%100 == 0 {
			require.NoError(t, r.Sync())
		}
	}
	require.NoError(t, r.Close())
	runs, err := List(dir)
	require.NoError(t, err)
	require.Greater(t, runs[0].Segments, 1)
	require.Equal(t, 100*time.Millisecond, runs[0].From)
	require.Equal(t, last.t, runs[0].To)
	require.Empty(t, runs[0].Problem)
	_, frames, _ := exported(t, dir, 1)
	require.Len(t, frames, 5000)
}

func TestOldestAreDeletedFirst(t *testing.T) {
	const most = 100_000
	dir := t.TempDir()
	for range 4 {
		r, err := Open(dir, Options{MaxBytes: most, Info: testInfo})
		require.NoError(t, err)
		g := newRig(t)
		for range 1000 {
			k := g.next()
			require.NoError(t, k.appendTo(r))
			if g.n%20 == 0 {
				require.NoError(t, r.Sync())
				require.LessOrEqual(t, sizeOf(t, dir), int64(most))
			}
		}
		require.NoError(t, r.Close())
	}
	runs, err := List(dir)
	require.NoError(t, err)
	newest := runs[len(runs)-1]
	require.EqualValues(t, 4, newest.Boot)
	require.Equal(t, 100*time.Second, newest.To)

	text, err := os.ReadFile(filepath.Join(dir, deletionsName))
	require.NoError(t, err)
	var files []string
	for line := range strings.Lines(string(text)) {
		var d Deletion
		require.NoError(t, json.Unmarshal([]byte(line), &d))
		require.Positive(t, d.Bytes)
		require.NoFileExists(t, filepath.Join(dir, d.File))
		files = append(files, d.File)
	}
	require.Equal(t, "boot-000001/frames-0001.csv", files[0])
	require.IsIncreasing(t, files[:5])
}

// sizeOf sums what the runs take on disk.
func sizeOf(t *testing.T, dir string) (sum int64) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Dir(path) == dir {
			return err
		}
		info, err := d.Info()
		sum += info.Size()
		return err
	}))
	return sum
}

func TestEventsOutliveFramesButNotForEver(t *testing.T) {
	dir := t.TempDir()
	old := bootFolder(dir, 1)
	require.NoError(t, os.MkdirAll(old, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(old, segmentName(1)), make([]byte, 4000), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(old, eventsName), make([]byte, 4000), 0o644))
	k := newRig(t).next()
	for i, most := range []int64{6000, 3000} {
		r, err := Open(dir, Options{MaxBytes: most})
		require.NoError(t, err)
		require.NoError(t, k.appendTo(r))
		require.NoError(t, r.Close())
		require.NoFileExists(t, filepath.Join(old, segmentName(1)))
		if i == 0 {
			require.FileExists(t, filepath.Join(old, eventsName))
		} else {
			require.NoDirExists(t, old)
		}
	}
}
