package calibrate_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
	"headroom/sensors/calibrate"
)

// filled is a store with n zeros of the inlet pressure, offsets 1 to n.
func filled(t *testing.T, n int) *calibrate.Store {
	s, err := calibrate.NewStore(filepath.Join(t.TempDir(), "calibration"))
	require.NoError(t, err)
	for i := range n {
		require.NoError(t, s.Append(cal(calibrate.Zero, 1e6, pt(float64(i+1), 0))))
	}
	return s
}

func TestHistoryIsKept(t *testing.T) {
	s := filled(t, 3)
	all, err := s.Load(frame.InletPressure)
	require.NoError(t, err)
	require.Len(t, all, 3)
	require.Equal(t, cal(calibrate.Zero, 1e6, pt(1, 0)), all[0])
	last, err := s.Latest(frame.InletPressure)
	require.NoError(t, err)
	require.Equal(t, 3.0, last.Points[0].Raw)
	last, err = s.Latest(frame.Flow)
	require.NoError(t, err)
	require.Nil(t, last)
	require.ErrorContains(t, s.Append(calibrate.Calibration{}), "cannot save")
	left, err := os.ReadDir(filepath.Dir(s.File(frame.InletPressure)))
	require.NoError(t, err)
	require.Len(t, left, 1, "no temporary file stays")
	aside, err := s.Repair(frame.InletPressure)
	require.NoError(t, err)
	require.Empty(t, aside, "nothing to repair")
}

// Cut anywhere, or with any byte changed, the file never gives a calibration
// that wasn't written, never loses those that are whole, and says where.
func TestDamageAnywhere(t *testing.T) {
	s := filled(t, 3)
	name := s.File(frame.InletPressure)
	whole, err := os.ReadFile(name)
	require.NoError(t, err)
	written, err := s.Load(frame.InletPressure)
	require.NoError(t, err)
	ends := []int{0}
	for i, b := range whole {
		if b == '\n' {
			ends = append(ends, i+1)
		}
	}
	linesBefore := func(n int) (k int) {
		for _, e := range ends[1:] {
			if e <= n {
				k++
			}
		}
		return k
	}
	for n := range whole {
		require.NoError(t, os.WriteFile(name, whole[:n], 0o644))
		all, err := s.Load(frame.InletPressure)
		k := linesBefore(n)
		require.GreaterOrEqual(t, len(all), k)
		for i := range all {
			require.Equal(t, written[i], all[i])
		}
		if n == ends[k] { // cut between lines: an older file, which is no damage
			require.NoError(t, err)
			continue
		}
		var d *calibrate.Damage
		require.ErrorAs(t, err, &d, "cut at %d", n)
		require.Equal(t, k+1, d.Lines[0].Number)
	}
	for n := range whole {
		broken := bytes.Clone(whole)
		broken[n] ^= 0x01
		require.NoError(t, os.WriteFile(name, broken, 0o644))
		all, err := s.Load(frame.InletPressure)
		var d *calibrate.Damage
		require.ErrorAs(t, err, &d, "byte %d changed", n)
		require.GreaterOrEqual(t, len(all), 1)
		for _, c := range all {
			require.Contains(t, written, c)
		}
	}
}

func TestDamageIsRefusedAndRepaired(t *testing.T) {
	s := filled(t, 3)
	name := s.File(frame.InletPressure)
	data, err := os.ReadFile(name)
	require.NoError(t, err)
	broken := bytes.Replace(data, []byte(`"raw":2`), []byte(`"raw":7`), 1)
	require.NotEqual(t, data, broken)
	require.NoError(t, os.WriteFile(name, broken, 0o644))

	err = s.Append(cal(calibrate.Zero, 1e6, pt(4, 0)))
	require.ErrorContains(t, err, "line 2: its content doesn't fit its hash")
	require.ErrorContains(t, err, "2 other calibrations in it are whole")
	now, err := os.ReadFile(name)
	require.NoError(t, err)
	require.Equal(t, broken, now, "a refusal writes nothing")
	last, err := s.Latest(frame.InletPressure)
	require.Error(t, err)
	require.Equal(t, 3.0, last.Points[0].Raw, "the newest whole one is still there")

	aside, err := s.Repair(frame.InletPressure)
	require.NoError(t, err)
	kept, err := os.ReadFile(aside)
	require.NoError(t, err)
	require.Equal(t, broken, kept)
	require.NoError(t, s.Append(cal(calibrate.Zero, 1e6, pt(4, 0))))
	all, err := s.Load(frame.InletPressure)
	require.NoError(t, err)
	require.Equal(t, []float64{1, 3, 4}, []float64{all[0].Points[0].Raw, all[1].Points[0].Raw, all[2].Points[0].Raw})
}

func TestAMissingLineShows(t *testing.T) {
	s := filled(t, 3)
	name := s.File(frame.InletPressure)
	data, err := os.ReadFile(name)
	require.NoError(t, err)
	rows := bytes.SplitAfter(data, []byte("\n"))
	require.NoError(t, os.WriteFile(name, append(rows[0], rows[2]...), 0o644))
	all, err := s.Load(frame.InletPressure)
	require.ErrorContains(t, err, "line 2: a line before it is missing or changed")
	require.Len(t, all, 2)
}

func TestAFileOfAnotherChannel(t *testing.T) {
	s := filled(t, 1)
	require.NoError(t, os.Rename(s.File(frame.InletPressure), s.File(frame.OutletPressure)))
	all, err := s.Load(frame.OutletPressure)
	require.ErrorContains(t, err, "is a calibration of inlet_pressure")
	require.Empty(t, all)
}

// Two stores on one folder, as a command and the daemon would be.
func TestTwoProgramsLoseNothing(t *testing.T) {
	a := filled(t, 0)
	b, err := calibrate.NewStore(filepath.Dir(a.File(frame.Flow)))
	require.NoError(t, err)
	done := make(chan int)
	for k, s := range []*calibrate.Store{a, b} {
		go func() {
			saved := 0
			for i := range 20 {
				if s.Append(cal(calibrate.Zero, 1e6, pt(float64(100*k+i), 0))) == nil {
					saved++
				}
			}
			done <- saved
		}()
	}
	saved := <-done + <-done
	all, err := a.Load(frame.InletPressure)
	require.NoError(t, err)
	require.Len(t, all, saved, "each save that was acknowledged, and no other")
	require.Positive(t, saved)
}

func TestAFolderThatCannotBe(t *testing.T) {
	file := filepath.Join(t.TempDir(), "x")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	_, err := calibrate.NewStore(filepath.Join(file, "y"))
	require.ErrorContains(t, err, "cannot make the folder")
}
