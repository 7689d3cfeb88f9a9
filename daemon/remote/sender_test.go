package remote

import (
	"context"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/store"
	"headroom/rules/frame"
)

// until runs a sender until its position is reached, or fails.
func until(t *testing.T, s *Sender, boot uint64, minute int64) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 48*time.Hour)
	defer cancel()
	done := make(chan struct{})
	go func() { defer close(done); s.Run(ctx) }()
	for {
		st := s.Stats()
		if st.Boot > boot || st.Boot == boot && st.Minute >= minute {
			break
		}
		require.NoError(t, ctx.Err(), "at boot %d minute %d, failing %q", st.Boot, st.Minute, st.Failing)
		time.Sleep(time.Second)
	}
	cancel()
	<-done
}

// fromStart lets a sender begin at the record's first boot.
func fromStart(t *testing.T, s *Sender, r Record) {
	t.Helper()
	name, err := r.RecordName(t.Context())
	require.NoError(t, err)
	s.st.Record, s.st.At = name, place{Boot: 1}
	require.NoError(t, s.st.save(s.path))
}

var days = []boot{
	{start: noon, minutes: 20, trust: store.Synced},
	{start: noon.Add(time.Hour), minutes: 14, trust: store.Seen},
	{start: noon.Add(2 * time.Hour), minutes: 12, trust: store.ByPerson, gap: 9 * time.Minute},
	{start: noon.Add(72 * time.Hour), minutes: 30, trust: store.Synced, tank: true},
}

func TestWhatIsRecordedArrives(t *testing.T) {
	for _, protocol := range []string{V1, V2} {
		t.Run(protocol, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				dir := t.TempDir()
				r := recorded(t, dir, days...)
				defer r.Close()
				to := newShelf()
				opt := options(t, r, dir, handler(to))
				opt.Protocol = protocol
				s, err := New(opt)
				require.NoError(t, err)
				fromStart(t, s, r)
				until(t, s, 4, 30)
				require.Zero(t, to.twice)
				require.Zero(t, s.Stats().Failures, s.Stats().Failing)
				require.Equal(t, uint64(to.samples()), s.Stats().Sent)
				checkReadings(t, r, to)
				checkAlarms(t, r, to)
				checkCounters(t, r, to)
			})
		})
	}
}

// checkReadings holds what arrived against sums made in the plainest way.
func checkReadings(t *testing.T, r *recorder, to *shelf) {
	t.Helper()
	mean := to.of("headroom_pressure_pascals", "channel", "inlet_pressure")
	least := to.of("headroom_pressure_min_pascals", "channel", "inlet_pressure")
	most := to.of("headroom_pressure_max_pascals", "channel", "inlet_pressure")
	require.Equal(t, len(mean), len(least))
	i := 0
	for b, d := range days {
		type sum struct{ n, total, lo, hi float64 }
		windows := map[int64]*sum{}
		end := time.Duration(0)
		for tick, err := range r.Frames(t.Context(), store.RunID{Boot: uint64(b) + 1}, 0, 0) {
			require.NoError(t, err)
			w := int64((tick.T - 1) / (10 * time.Second))
			if windows[w] == nil {
				windows[w] = &sum{lo: math.Inf(1), hi: math.Inf(-1)}
			}
			v := tick.Frame.Samples[frame.InletPressure].Value
			windows[w].n++
			windows[w].total += v
			windows[w].lo, windows[w].hi = min(windows[w].lo, v), max(windows[w].hi, v)
			end = tick.T
		}
		whole := int64(end / time.Minute * time.Minute / (10 * time.Second))
		for w := int64(0); w <= int64(end/(10*time.Second)); w++ {
			x := windows[w]
			if x == nil || b == len(days)-1 && w >= whole {
				continue
			}
			require.Less(t, i, len(mean))
			at := min(time.Duration(w+1)*10*time.Second, end)
			require.Equal(t, d.start.Add(at).UnixMilli(), mean[i].ms, "boot %d window %d", b+1, w)
			require.InEpsilon(t, x.total/x.n, mean[i].value, 1e-6)
			require.InEpsilon(t, x.lo, least[i].value, 1e-6)
			require.InEpsilon(t, x.hi, most[i].value, 1e-6)
			i++
		}
	}
	require.Equal(t, len(mean), i, "nothing more arrived")
	temps := to.of("headroom_temperature_celsius", "channel", "water_temp")
	require.Less(t, len(temps), len(mean), "a failed thermometer has no reading")
	for _, p := range temps {
		require.InDelta(t, 16, p.value, 4, "and never its last one")
	}
	require.NotEmpty(t, to.of("headroom_channel_status", "channel", "water_temp", "status", "failed"))
	require.NotEmpty(t, to.of("headroom_channel_status", "channel", "motor_current", "status", "out_of_band"), "what only the engine sees counts too")
	for _, p := range to.of("headroom_current_max_amperes", "channel", "motor_current") {
		require.Less(t, p.value, 20.0)
	}
}

// checkAlarms: every event of the record is there, at its own time.
func checkAlarms(t *testing.T, r *recorder, to *shelf) {
	t.Helper()
	seen := 0
	for b, d := range days {
		events, err := r.Events(t.Context(), store.RunID{Boot: uint64(b) + 1})
		require.NoError(t, err)
		for i := range events {
			e := &events[i]
			if b == len(days)-1 && e.T > 30*time.Minute {
				continue
			}
			seen++
			require.Contains(t, to.of("headroom_alarm_active", "alarm", e.Alarm, "level", e.Level), sample{d.start.Add(e.T).UnixMilli(), truth(e.Raised)}, e.Alarm)
		}
	}
	require.Greater(t, seen, 20)
	require.Len(t, to.of(nameAlarm, "alarm", "tank_low.warn", "level", "warning"), 30, "what stood when the last boot began is told each minute")
}

// checkCounters: they only go up over all boots, and end where the record's own
// sums do.
func checkCounters(t *testing.T, r *recorder, to *shelf) {
	t.Helper()
	water := to.of(nameWater)
	require.NotEmpty(t, water)
	for i := 1; i < len(water); i++ {
		require.GreaterOrEqual(t, water[i].value, water[i-1].value)
	}
	life, err := r.Life(t.Context())
	require.NoError(t, err)
	require.InEpsilon(t, life.WaterM3, water[len(water)-1].value, 0.02, "the open minute is not told yet")
}

// chaos stands between sender and store.
type chaos struct {
	mu   sync.Mutex
	rnd  *rand.Rand
	next http.Handler
	// until which time nobody can be reached.
	dark time.Time
	seen map[string]int
}

func (c *chaos) roll() (string, time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if time.Now().Before(c.dark) {
		return "dark", 0
	}
	what := []string{"fine", "fine", "fine", "500", "503", "429", "slow", "lost answer", "cut answer", "cut", "go dark"}[c.rnd.IntN(11)]
	c.seen[what]++
	return what, time.Duration(c.rnd.Int64N(int64(90 * time.Second)))
}

func (c *chaos) ServeHTTP(w http.ResponseWriter, req *http.Request) {
	what, d := c.roll()
	switch what {
	case "500":
		http.Error(w, "invented", http.StatusInternalServerError)
		return
	case "503":
		w.Header().Set("Retry-After", "7")
		http.Error(w, "invented", http.StatusServiceUnavailable)
		return
	case "429":
		w.Header().Set("Retry-After", time.Now().Add(20*time.Second).UTC().Format(http.TimeFormat))
		http.Error(w, "invented", http.StatusTooManyRequests)
		return
	case "dark", "cut":
		panic(http.ErrAbortHandler)
	case "go dark":
		c.mu.Lock()
		c.dark = time.Now().Add(d * 40)
		c.mu.Unlock()
		panic(http.ErrAbortHandler)
	case "slow":
		time.Sleep(d)
	case "lost answer":
		c.next.ServeHTTP(&mute{header: http.Header{}}, req)
		panic(http.ErrAbortHandler)
	case "cut answer":
		c.next.ServeHTTP(&mute{header: http.Header{}}, req)
		w.Header().Set("Content-Length", "400")
		w.WriteHeader(http.StatusOK)
		_, _ = w.Write([]byte("half an ans"))
		panic(http.ErrAbortHandler)
	}
	c.next.ServeHTTP(w, req)
}

// mute takes an answer that never arrives.
type mute struct{ header http.Header }

func (m *mute) Header() http.Header         { return m.header }
func (m *mute) Write(b []byte) (int, error) { return len(b), nil }
func (m *mute) WriteHeader(int)             {}

// The link is cut and comes back, the store fails in every way it can, and the
// program is restarted in the middle: what arrives is what arrives without all
// that, once and in order.
func TestChaosChangesNothing(t *testing.T) {
	dir := t.TempDir()
	want := newShelf()
	synctest.Test(t, func(t *testing.T) {
		r := recorded(t, dir, days...)
		defer r.Close()
		s, err := New(options(t, r, t.TempDir(), handler(want)))
		require.NoError(t, err)
		fromStart(t, s, r)
		until(t, s, 4, 30)
	})
	require.Greater(t, want.samples(), 5000)
	for seed := range uint64(6) {
		faults := map[string]int{}
		synctest.Test(t, func(t *testing.T) {
			copied := t.TempDir()
			require.NoError(t, os.CopyFS(copied, os.DirFS(dir)))
			got := newShelf()
			restarts := throughChaos(t, copied, got, rand.New(rand.NewPCG(seed, 9)), faults)
			require.Equal(t, want.series, got.series)
			require.Greater(t, restarts, 3)
		})
		require.Greater(t, faults["lost answer"]+faults["cut answer"], 0, "%v", faults)
	}
}

// throughChaos sends the record while everything fails.
func throughChaos(t *testing.T, dir string, to *shelf, rnd *rand.Rand, faults map[string]int) (restarts int) {
	r, err := store.OpenReader(dir)
	require.NoError(t, err)
	defer r.Close()
	rec := &frozen{r, 4}
	c := &chaos{rnd: rand.New(rand.NewPCG(rnd.Uint64(), 1)), next: handler(to), seen: faults}
	opt := options(t, rec, t.TempDir(), c)
	opt.CatchUp, opt.mostMinutes = 600, 1+rnd.IntN(4)
	s, err := New(opt)
	require.NoError(t, err)
	fromStart(t, s, rec)
	for {
		s, err = New(opt) // as after a restart
		require.NoError(t, err)
		ctx, cancel := context.WithTimeout(t.Context(), time.Duration(rnd.Int64N(int64(40*time.Second))))
		s.Run(ctx)
		cancel()
		if st := s.Stats(); st.Boot == 4 && st.Minute >= 30 {
			require.Zero(t, st.Refused)
			return restarts
		}
		restarts++
		require.Less(t, restarts, 100_000)
		time.Sleep(time.Duration(rnd.Int64N(int64(5 * time.Minute))))
	}
}

// frozen is a record in which the last boot still runs.
type frozen struct {
	*store.Reader
	boot uint64
}

func (f *frozen) Boot() uint64 { return f.boot }
