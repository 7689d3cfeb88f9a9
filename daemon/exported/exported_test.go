package exported_test

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	_ "modernc.org/sqlite"

	"headroom/daemon/config"
	"headroom/daemon/exported"
	"headroom/daemon/replay"
	"headroom/daemon/rerun"
	"headroom/daemon/snapshot"
	"headroom/daemon/store"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

var ctx = context.Background()

// configText is an invented trailer: the defaults and nothing else.
var configText = []byte("# invented, with a \"quote\"\n\n[machine]\nname = \"trailer 2, invented\"\n")

// day records an invented boot of two runs in which the supply gives way, with
// people who do something about it, and keeps what every verdict was.
type day struct {
	t        *testing.T
	dir      string
	verdicts map[time.Duration][]byte
	last     time.Duration
}

func parse(t *testing.T, text []byte) *config.Config {
	cfg, problems := config.Parse("invented.toml", text)
	require.Empty(t, config.Mistakes(problems))
	return cfg
}

func raw(n int) (f frame.Frame) {
	turning, inlet := 1.0, 250e3
	at := n % 1500
	if at > 1100 {
		turning = 0
	}
	if at > 400 && at < 900 {
		inlet = 30e3 - float64(at)*80
	}
	noise := math.Sin(float64(n) * 12.9898)
	f.Set(frame.InletPressure, inlet+2e3*noise)
	f.Set(frame.WaterTemp, 288.15+0.1*noise)
	f.Set(frame.Flow, turning*(7.6+0.05*noise)/60e3)
	f.Set(frame.MotorCurrent, turning*(14+0.2*noise))
	f.Set(frame.OutletPressure, turning*(8.1e6+5e4*noise))
	f.Set(frame.ShaftSpeed, turning*28.75)
	f.Set(frame.Running, turning)
	if n%97 == 0 {
		f.Samples[frame.WaterTemp] = frame.Sample{Value: 288, Status: frame.Stale}
	}
	if n%101 == 0 {
		f.Samples[frame.Flow] = frame.Sample{Status: frame.Missing}
	}
	return f
}

func record(t *testing.T) *day {
	d := &day{t: t, dir: t.TempDir(), verdicts: map[time.Duration][]byte{}}
	cfg := parse(t, configText)
	first := raw(1)
	e, err := engine.New(replay.FitTo(cfg.Engine, replay.Fitted(&first)))
	require.NoError(t, err)
	var state engine.State
	kept := standing(t, e)
	text, err := snapshot.EncodeKept(&kept)
	require.NoError(t, err)
	state.Restore(&kept)
	s, err := store.Open(d.dir, store.Options{SealFrames: 700, HoldOff: 10 * time.Second, Info: store.Info{
		Software: "0.0.0-test", Machine: "trailer 2, invented", ConfigHash: "9f86d081884c7d65", ConfigText: configText, Kept: text,
		StartWall: time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC),
	}})
	require.NoError(t, err)
	acts := 0
	for n := 1; n <= 3000; n++ {
		f := raw(n)
		d.last = time.Duration(n)*100*time.Millisecond + time.Duration(n%7)*time.Millisecond
		v := e.Step(&state, &f, d.last)
		d.verdicts[d.last] = v.Append(nil)
		require.NoError(t, s.Append(d.last, time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC).Add(d.last), &f, v))
		if n%10 == 0 {
			require.NoError(t, s.Sync())
		}
		acts += d.act(s, e, &state, n)
	}
	require.Greater(t, acts, 3, "a day on which nobody did anything proves nothing")
	require.NoError(t, s.Close())
	return d
}

// standing is how the alarms stood when a boot before this one ended.
func standing(t *testing.T, e *engine.Engine) snapshot.Kept {
	var state engine.State
	for n := 401; n < 700; n++ {
		f := raw(n)
		e.Step(&state, &f, time.Duration(n)*100*time.Millisecond)
	}
	k := state.Keep()
	require.NotEqual(t, snapshot.Kept{}, k)
	return k
}

// act acknowledges or shelves what calls now and then.
func (d *day) act(s *store.Store, e *engine.Engine, state *engine.State, n int) (done int) {
	if n%130 != 0 {
		return 0
	}
	for a := range engine.AlarmID(engine.NumAlarms) {
		act, shelf := alarm.Acknowledge, time.Duration(0)
		if n%260 == 0 {
			act, shelf = alarm.Shelve, 30*time.Second
		}
		if did, ok := e.Do(state, a, act, d.last, shelf); ok {
			_, err := s.Act(store.Act{T: did.T, Who: "P. Example", What: did.Act.String(), Alarm: did.Alarm.String(), For: did.Shelf})
			require.NoError(d.t, err)
			done++
		}
	}
	return done
}

func (d *day) reader() *store.Reader {
	r, err := store.OpenReader(d.dir)
	require.NoError(d.t, err)
	d.t.Cleanup(func() { require.NoError(d.t, r.Close()) })
	return r
}

func (d *day) export(r *store.Reader, what exported.What, f exported.Format) (*exported.File, exported.Report) {
	path := filepath.Join(d.t.TempDir(), "out."+string(f))
	out, err := os.Create(path)
	require.NoError(d.t, err)
	rep, err := exported.Write(ctx, out, r, what, f)
	require.NoError(d.t, errors.Join(err, out.Close()))
	file, err := exported.Open(path)
	require.NoError(d.t, err)
	require.Equal(d.t, f, file.Format)
	return file, rep
}

// requireSameVerdicts replays a file and compares every verdict of what was
// asked for with that of then.
func (d *day) requireSameVerdicts(file *exported.File, from, to time.Duration) {
	d.t.Helper()
	n := 0
	res, err := rerun.Run(ctx, file, file.Head.Run, rerun.Options{Replay: replay.Options{OnVerdicts: func(v *engine.Verdicts, _ time.Time) {
		require.GreaterOrEqual(d.t, v.T, from)
		require.LessOrEqual(d.t, v.T, to)
		if !bytes.Equal(d.verdicts[v.T], v.Append(nil)) {
			require.Fail(d.t, "other verdicts", "at %v", v.T)
		}
		n++
	}}})
	require.NoError(d.t, err)
	require.Empty(d.t, res.Lost)
	want := 0
	for t := range d.verdicts {
		if t >= from && t <= to {
			want++
		}
	}
	require.Equal(d.t, want, n)
}

func TestARunsExportReplaysToTheSameVerdicts(t *testing.T) {
	d := record(t)
	r := d.reader()
	run, err := r.Run(ctx, store.RunID{Boot: 1, N: 2})
	require.NoError(t, err)
	require.Positive(t, run.Raised, "a run without alarms proves nothing")
	for _, f := range []exported.Format{exported.CSV, exported.Parquet} {
		t.Run(string(f), func(t *testing.T) {
			d := &day{t: t, dir: d.dir, verdicts: d.verdicts, last: d.last}
			file, rep := d.export(r, exported.What{Run: run.ID}, f)
			require.Equal(t, exported.Whole, rep.LeadIn)
			require.NotEmpty(t, rep.Info.ConfigText)
			require.Positive(t, rep.LeadInRows)
			d.requireSameVerdicts(file, run.Start, run.End)
			require.Equal(t, rep.Head, file.Head, "all that is said comes back")
			require.NotEmpty(t, file.Head.Acts)
			require.NotEmpty(t, file.Events)
			require.Contains(t, file.Chain, ":")

			boot, rep := d.export(r, exported.What{Run: store.RunID{Boot: 1}}, f)
			require.Zero(t, rep.LeadInRows)
			d.requireSameVerdicts(boot, 0, d.last)
			requireSameRows(t, r, boot)

			alone, rep := d.export(r, exported.What{Run: run.ID, Alone: true}, f)
			require.Equal(t, exported.None, rep.LeadIn)
			require.Less(t, rep.Rows, uint64(2000))
			boots, err := alone.Boots(ctx)
			require.NoError(t, err)
			require.Empty(t, boots[0].Kept)
		})
	}
}

// requireSameRows compares rows bit for bit.
func requireSameRows(t *testing.T, r *store.Reader, f *exported.File) {
	var want []store.Tick
	for k, err := range r.Frames(ctx, store.RunID{Boot: 1}, 0, 0) {
		require.NoError(t, err)
		want = append(want, k)
	}
	n := 0
	for k, err := range f.Frames(ctx, store.RunID{Boot: 1}, 0, 0) {
		require.NoError(t, err)
		require.Equal(t, want[n], k)
		n++
	}
	require.Len(t, want, n)
}

// TestAThinnedLeadInIsSaid: what can't be exact says so.
func TestAThinnedLeadInIsSaid(t *testing.T) {
	d := record(t)
	db, err := sql.Open("sqlite", filepath.Join(d.dir, "record.db"))
	require.NoError(t, err)
	_, err = db.Exec("DELETE FROM block_data WHERE block = (SELECT min(block) FROM block_data)")
	require.NoError(t, errors.Join(err, db.Close()))
	r := d.reader()
	for _, f := range []exported.Format{exported.CSV, exported.Parquet} {
		file, rep := d.export(r, exported.What{Run: store.RunID{Boot: 1, N: 2}}, f)
		require.Equal(t, exported.Damaged, rep.LeadIn)
		require.Len(t, file.Lost, 1)
		res, err := rerun.Run(ctx, file, file.Head.Run, rerun.Options{})
		require.NoError(t, err)
		require.Equal(t, file.Lost, res.Lost)
	}
}

func TestWhatCantBeExportedOrOpened(t *testing.T) {
	d := record(t)
	r := d.reader()
	for _, c := range []struct {
		what exported.What
		want string
	}{
		{exported.What{Run: store.RunID{Boot: 9}}, "no boot 9"},
		{exported.What{Run: store.RunID{Boot: 1, N: 9}}, "no such run"},
		{exported.What{Run: store.RunID{Boot: 1}, From: 90 * time.Hour}, "no frames"},
		{exported.What{Run: store.RunID{Boot: 1, N: 1}, From: 10 * time.Second, To: 5 * time.Second}, "nothing in between"},
	} {
		_, err := exported.Write(ctx, &bytes.Buffer{}, r, c.what, exported.CSV)
		require.ErrorContains(t, err, c.want)
	}
	_, err := exported.ParseFormat("xls")
	require.ErrorContains(t, err, "csv or parquet")
	foreign := filepath.Join(t.TempDir(), "foreign.csv")
	require.NoError(t, os.WriteFile(foreign, []byte("time;psi\n1;2\n"), 0o644))
	_, err = exported.Open(foreign)
	require.ErrorIs(t, err, exported.ErrNotOwn)
	_, err = exported.Open(filepath.Join(t.TempDir(), "none"))
	require.ErrorIs(t, err, os.ErrNotExist)
	broken := filepath.Join(t.TempDir(), "broken.parquet")
	require.NoError(t, os.WriteFile(broken, []byte("PAR1 and no more"), 0o644))
	_, err = exported.Open(broken)
	require.ErrorContains(t, err, "cannot read the Parquet file")
}
