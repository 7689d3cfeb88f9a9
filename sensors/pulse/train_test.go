package pulse

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/sensors/gpiochip"
)

func newTrain(maxHz float64) *train {
	return &train{
		minPeriod: time.Duration(float64(time.Second) / maxHz / 2),
		window:    500 * time.Millisecond, zeroAfter: 3 * time.Second,
	}
}

// feed gives n edges, period apart, each moved by jitter(i), and returns the
// time of the last. Sequence numbers go on from seq.
func feed(t *train, from, period time.Duration, n int, seq *uint32, jitter func(int) time.Duration) time.Duration {
	at := from
	for i := range n {
		at = from + time.Duration(i)*period
		*seq++
		t.add(gpiochip.Event{At: at + jitter(i), LineSeq: *seq})
	}
	return at + jitter(n-1)
}

func steady(int) time.Duration { return 0 }

// Between two edges with a time error of at most j each, k periods are known
// to k*T +- 2j: that is the whole error of reciprocal counting (arithmetic).
func TestRateErrorIsBoundedByTheJitter(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		hz := math.Exp(rapid.Float64Range(math.Log(0.4), math.Log(5000)).Draw(rt, "log hz"))
		period := time.Duration(float64(time.Second) / hz)
		j := time.Duration(rapid.Float64Range(0, 0.2).Draw(rt, "jitter share") * float64(period))
		n := rapid.IntRange(2, 3000).Draw(rt, "edges")
		seed := rapid.Uint64().Draw(rt, "seed")
		seq := rapid.Uint32().Draw(rt, "first number") // wraps within the train now and then
		tr := newTrain(5000)
		last := feed(tr, time.Hour, period, n, &seq, func(i int) time.Duration {
			seed = seed*6364136223846793005 + 1442695040888963407 // a linear congruence is random enough
			return time.Duration(float64(j) * (float64(seed>>11)/(1<<53)*2 - 1))
		})
		got, falling, ok := tr.rate(last, 0)
		if !ok || falling {
			rt.Fatalf("ok %v falling %v", ok, falling)
		}
		span := tr.last.at - tr.base().at
		trueHz := float64(time.Second) / float64(period)
		bound := (2*float64(j) + 2) / float64(span)
		if e := math.Abs(got/trueHz - 1); e > bound {
			rt.Fatalf("%g Hz read as %g: error %g beyond %g", trueHz, got, e, bound)
		}
		if float64(n-1)*float64(period) > 1.1*float64(tr.window) && 2*j < period && float64(span) < float64(tr.window)*(1-2./markShare)-2*float64(period) {
			rt.Fatalf("the span %v leaves much of the window %v unused", span, tr.window)
		}
		if tr.lost != 0 || tr.rejected != 0 || tr.last.count != uint64(n) {
			rt.Fatalf("%d edges: count %d, lost %d, rejected %d", n, tr.last.count, tr.lost, tr.rejected)
		}
	})
}

// Whatever the kernel drops, the count and the rate stay those of all pulses.
func TestEveryLossIsSeenAndAdded(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		hz := rapid.Float64Range(5, 2000).Draw(rt, "hz")
		period := time.Duration(float64(time.Second) / hz)
		n := rapid.IntRange(10, 2000).Draw(rt, "pulses")
		seq := rapid.SampledFrom([]uint32{0, 1000, math.MaxUint32 - 5}).Draw(rt, "first number")
		dropEvery := rapid.IntRange(2, 40).Draw(rt, "drop every")
		burst := rapid.IntRange(1, 30).Draw(rt, "burst")
		tr, dropped := newTrain(2500), uint64(0)
		last := time.Duration(0)
		for i := range n {
			seq++
			at := time.Hour + time.Duration(i)*period
			if i > 0 && i < n-1 && i%(dropEvery+burst) >= dropEvery {
				dropped++
				continue
			}
			tr.add(gpiochip.Event{At: at, LineSeq: seq})
			last = at
		}
		got, _, ok := tr.rate(last, 0)
		if !ok || tr.lost != dropped || tr.last.count != uint64(n) {
			rt.Fatalf("sent %d, dropped %d: count %d, lost %d", n, dropped, tr.last.count, tr.lost)
		}
		if want := 1 / period.Seconds(); math.Abs(got/want-1) > 1e-6 {
			rt.Fatalf("rate %g, want %g", got, want)
		}
	})
}

func TestBounceIsLeftOutAndCounted(t *testing.T) {
	tr, seq := newTrain(100), uint32(0)
	for i := range 50 {
		at := time.Duration(i) * 20 * time.Millisecond
		for _, bounce := range []time.Duration{0, 100 * time.Microsecond, time.Millisecond} {
			seq++
			tr.add(gpiochip.Event{At: time.Second + at + bounce, LineSeq: seq})
		}
	}
	hz, _, ok := tr.rate(tr.last.at, 0)
	require.True(t, ok)
	require.InDelta(t, 50, hz, 1e-9)
	require.EqualValues(t, 100, tr.rejected)
	require.EqualValues(t, 50, tr.last.count)
}

// A gap can hold no more pulses than fit into its time.
func TestALossOfBouncesAddsNoImpossiblePulses(t *testing.T) {
	tr := newTrain(100) // 5 ms at least
	tr.add(gpiochip.Event{At: time.Second, LineSeq: 1})
	tr.add(gpiochip.Event{At: time.Second + 50*time.Millisecond, LineSeq: 101})
	require.EqualValues(t, 99, tr.lost)
	require.EqualValues(t, 90, tr.rejected)
	require.EqualValues(t, 11, tr.last.count)
}

func TestARestartedOrOddNumberingCountsOneEdge(t *testing.T) {
	for name, second := range map[string]uint32{"from one again": 1, "the same again": 500} {
		tr := newTrain(100)
		tr.add(gpiochip.Event{At: time.Second, LineSeq: 500})
		tr.add(gpiochip.Event{At: 2 * time.Second, LineSeq: second})
		require.EqualValues(t, 2, tr.last.count, name)
		require.Zero(t, tr.lost, name)
	}
	tr := newTrain(100)
	tr.add(gpiochip.Event{At: time.Second, LineSeq: 1})
	tr.add(gpiochip.Event{At: time.Second / 2, LineSeq: 2}) // a clock can't run back: an impossible edge
	require.EqualValues(t, 1, tr.rejected)
	require.EqualValues(t, 1, tr.last.count)
}

// In silence the value is never above one pulse per time since the last, never
// rises, and is exactly 0 after zeroAfter.
func TestSilenceFallsHonestlyToZero(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		hz := rapid.Float64Range(0.5, 1000).Draw(rt, "hz")
		tr, seq := newTrain(1000), uint32(7)
		last := feed(tr, time.Hour, time.Duration(float64(time.Second)/hz), rapid.IntRange(2, 500).Draw(rt, "edges"), &seq, steady)
		before := math.Inf(1)
		for step := time.Duration(1); step < 4*time.Second; step += 7 * time.Millisecond {
			got, falling, ok := tr.rate(last+step, 0)
			switch {
			case !ok || got > before:
				rt.Fatalf("after %v: %g after %g, ok %v", step, got, before, ok)
			case got > 1/step.Seconds():
				rt.Fatalf("after %v of silence the rate is %g", step, got)
			case step >= tr.zeroAfter && (got != 0 || !falling):
				rt.Fatalf("after %v the rate is %g", step, got)
			}
			before = got
		}
	})
}

// From 0.5 Hz to 1 kHz and back, one edge after the other: the rate always
// lies between the slowest and the quickest period of the stretch it covers,
// so there is no jump where "last period" becomes "count over the window".
func TestNoSeamBetweenPeriodAndCount(t *testing.T) {
	tr := newTrain(1000)
	at, hz, up := time.Hour, 0.5, true
	type edge struct{ at, period time.Duration }
	var edges []edge
	for seq := uint32(1); hz >= 0.5; seq++ {
		period := time.Duration(float64(time.Second) / hz)
		at += period
		edges = append(edges, edge{at, period})
		tr.add(gpiochip.Event{At: at, LineSeq: seq})
		if len(edges) > 1 {
			got, _, ok := tr.rate(at, 0)
			require.True(t, ok)
			slow, quick := time.Duration(0), time.Hour
			for _, e := range edges {
				if e.at > tr.base().at {
					slow, quick = max(slow, e.period), min(quick, e.period)
				}
			}
			require.LessOrEqual(t, got, 1/quick.Seconds()*(1+1e-9))
			require.GreaterOrEqual(t, got, 1/slow.Seconds()*(1-1e-9))
		}
		if up {
			hz *= 1.01
			up = hz < 1000
		} else {
			hz /= 1.01
		}
	}
	require.Greater(t, len(edges), 1000)
}

func TestNothingIsClaimedBeforeTheFirstPeriod(t *testing.T) {
	tr := newTrain(100)
	_, _, ok := tr.rate(2*time.Second, 0)
	require.False(t, ok, "too early to say that nothing flows")
	hz, _, ok := tr.rate(3*time.Second, 0)
	require.True(t, ok)
	require.Zero(t, hz)

	tr.add(gpiochip.Event{At: 4 * time.Second, LineSeq: 1})
	hz, falling, ok := tr.rate(4*time.Second, 0)
	require.True(t, ok && falling, "until a second edge the silence before is what we know")
	require.Zero(t, hz)
	tr = newTrain(100)
	tr.add(gpiochip.Event{At: time.Second, LineSeq: 1})
	_, _, ok = tr.rate(time.Second, 0)
	require.False(t, ok)
}

func BenchmarkAddAndRate(b *testing.B) {
	tr, at := newTrain(5000), time.Hour
	b.ReportAllocs()
	for i := range b.N {
		at += 200 * time.Microsecond
		tr.add(gpiochip.Event{At: at, LineSeq: uint32(i)})
		tr.rate(at, 0)
	}
}
