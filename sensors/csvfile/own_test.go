package csvfile_test

import (
	"bytes"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

func TestOwnRecordingNeedsNoMap(t *testing.T) {
	g, r := readAll(t, strings.NewReader(testdata(t, "own.csv")), csvfile.Map{})
	require.True(t, r.Own())
	require.Equal(t, csvfile.About{Software: "0.0.0-test", Config: "9f86d081884c7d65", Machine: "trailer 2, invented", Boot: 7}, r.About())
	require.Equal(t, []frame.Channel{frame.InletPressure, frame.WaterTemp, frame.Running}, r.Channels())
	require.Equal(t, []time.Duration{5 * time.Second, 5100 * time.Millisecond, 5200 * time.Millisecond}, g.t, "as recorded, not from 0")
	require.Equal(t, frame.Sample{Value: 310264.1, Status: frame.Stale}, g.frames[1].Samples[frame.InletPressure])
	require.Equal(t, frame.Sample{Status: frame.Missing}, g.frames[1].Samples[frame.WaterTemp])
	require.True(t, math.Signbit(g.frames[2].Samples[frame.WaterTemp].Value))
	require.True(t, g.wall[2].IsZero())
	require.Len(t, g.problems, 1)
	require.Contains(t, g.problems[0].Error(), `x.csv:10: `)
	require.Contains(t, g.problems[0].Error(), "cut off")
}

// What people wrote and what calibrations were in force are one line each of
// the head, and may be longer than any row.
func TestLongNotesOfTheHeadComeBack(t *testing.T) {
	note := csvfile.Note{Key: "act", Text: strings.Repeat("kinked hose; ", 20_000)}
	var b bytes.Buffer
	w, err := csvfile.NewWriter(&b, []frame.Channel{frame.Flow}, csvfile.About{Notes: []csvfile.Note{note, {Key: "chain", Text: "x"}}})
	require.NoError(t, err)
	var f frame.Frame
	f.Set(frame.Flow, 1e-4)
	require.NoError(t, w.Write(1, time.Time{}, &f))
	require.NoError(t, w.Flush())
	g, r := readAll(t, &b, csvfile.Map{})
	require.Empty(t, g.problems)
	require.Equal(t, []csvfile.Note{note, {Key: "chain", Text: "x"}}, r.About().Notes)
	require.Len(t, g.frames, 1)

	_, err = csvfile.NewReader(strings.NewReader("# headroom recording 1\n# act: "+strings.Repeat("x", 17<<20)), "x.csv", csvfile.Map{}, csvfile.Options{})
	require.ErrorContains(t, err, "longer than", "memory stays bounded")
}

func TestOwnRecordingIsReadStrictly(t *testing.T) {
	const head = "t_ns,wall,flow_m3s,flow_status\n"
	for row, want := range map[string]string{
		"1,,1":                "fields",
		"1,,,good":            "empty although",
		"1,,1,":               "is no status",
		"1,,1,fine":           "is no status",
		"1,yesterday,1,stuck": "is no date",
	} {
		g, _ := readAll(t, strings.NewReader(head+row+"\n"), csvfile.Map{})
		require.NotEmpty(t, g.problems, row)
		require.Contains(t, g.problems[0].Error(), want)
		for i := range g.frames {
			require.False(t, g.frames[i].Samples[frame.Flow].OK(), row)
		}
	}
}

func TestOwnRowWithoutLineFeedDoesNotCount(t *testing.T) {
	g, _ := readAll(t, strings.NewReader("t_ns,wall,flow_m3s,flow_status\n1,,1,good\n2,,2,good"), csvfile.Map{})
	require.Equal(t, []time.Duration{1}, g.t)
	require.Contains(t, g.problems[0].Error(), "x.csv:3")
}

// anyValue draws what a sensor may give and what it never should.
func anyValue() *rapid.Generator[float64] {
	return rapid.OneOf(
		rapid.Float64(),
		rapid.Float64Range(-1e6, 1e6),
		rapid.SampledFrom([]float64{0, math.Copysign(0, -1), math.SmallestNonzeroFloat64, math.MaxFloat64, 1e21, 123456789}),
	)
}

func drawFrame(t *rapid.T, channels []frame.Channel) (f frame.Frame) {
	for _, c := range channels {
		f.Samples[c] = frame.Sample{
			Value:  anyValue().Draw(t, "value"),
			Status: frame.Status(rapid.IntRange(0, int(frame.NumStatuses)-1).Draw(t, "status")),
		}
	}
	return f
}

func sameBits(t require.TestingT, want, have *frame.Frame) {
	for c := range want.Samples {
		w, h := want.Samples[c], have.Samples[c]
		require.Equal(t, w.Status, h.Status, "%s", frame.Channel(c))
		require.Equal(t, math.Float64bits(w.Value), math.Float64bits(h.Value), "%s: %v %v", frame.Channel(c), w.Value, h.Value)
	}
}

func TestWriteThenReadIsIdentical(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		channels := rapid.SliceOfDistinct(rapid.Custom(func(t *rapid.T) frame.Channel {
			return frame.Channel(rapid.IntRange(0, int(frame.NumChannels)-1).Draw(t, "channel"))
		}), func(c frame.Channel) frame.Channel { return c }).Draw(t, "channels")
		var out bytes.Buffer
		about := csvfile.About{Software: "v", Machine: rapid.StringMatching(`[a-z :#,"]{0,80}`).Draw(t, "machine")}
		w, err := csvfile.NewWriter(&out, channels, about)
		require.NoError(t, err)
		n := rapid.IntRange(0, 8).Draw(t, "rows")
		frames, at, walls := make([]frame.Frame, n), make([]time.Duration, n), make([]time.Time, n)
		now := time.Duration(rapid.Int64Range(-1e18, 1e18).Draw(t, "start"))
		for i := range n {
			now += time.Duration(rapid.Int64Range(1, 1e12).Draw(t, "step"))
			frames[i], at[i] = drawFrame(t, channels), now
			walls[i] = time.Unix(rapid.Int64Range(-4e9, 4e9).Draw(t, "s"), rapid.Int64Range(0, 999_999_999).Draw(t, "ns"))
			require.NoError(t, w.Write(at[i], walls[i], &frames[i]))
		}
		require.NoError(t, w.Flush())

		r, err := csvfile.NewReader(bytes.NewReader(out.Bytes()), "own", csvfile.Map{}, csvfile.Options{Strict: true})
		require.NoError(t, err)
		require.Equal(t, strings.Join(strings.Fields(about.Machine), " "), r.About().Machine)
		for i := range n {
			var f frame.Frame
			d, wall, err := r.Next(&f)
			require.NoError(t, err)
			require.Equal(t, at[i], d)
			require.True(t, walls[i].Equal(wall), "%v %v", walls[i], wall)
			sameBits(t, &frames[i], &f)
		}
		var f frame.Frame
		_, _, err = r.Next(&f)
		require.ErrorIs(t, err, io.EOF)
	})
}

func TestWriterRefusesWhatTheFormatCannotHold(t *testing.T) {
	w, err := csvfile.NewWriter(io.Discard, []frame.Channel{frame.Flow}, csvfile.About{})
	require.NoError(t, err)
	var f frame.Frame
	f.Set(frame.Flow, 1)
	require.NoError(t, w.Write(5, time.Time{}, &f))
	require.ErrorContains(t, w.Write(5, time.Time{}, &f), "must lie after")
	require.ErrorContains(t, w.Write(math.MaxInt64, time.Time{}, &f), "146 years")
	f.Set(frame.WaterTemp, 1)
	require.ErrorContains(t, w.Write(6, time.Time{}, &f), "without a column")
}

func TestNotANumberBecomesFailed(t *testing.T) {
	enc := csvfile.NewEncoder([]frame.Channel{frame.Flow, frame.WaterTemp})
	var f frame.Frame
	f.Set(frame.Flow, math.NaN())
	f.Samples[frame.WaterTemp] = frame.Sample{Value: math.Inf(1), Status: frame.Stale}
	row := enc.AppendRow(nil, 1, time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC), &f)
	require.Equal(t, "1,,,stale,,failed\n", string(row))
}

// TestNumbersAgainstStrconv holds the short way of reading numbers against the
// standard library, which is correctly rounded.
func TestNumbersAgainstStrconv(t *testing.T) {
	m := csvfile.Map{Time: csvfile.TimeColumn{Column: "t"}, Columns: []csvfile.Column{column("a", frame.Flow)}}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[-+]?[0-9]{0,12}\.?[0-9]{0,12}([eE][-+]?[0-9]{1,2})?`).Draw(t, "number")
		want, bad := strconv.ParseFloat(text, 64)
		r, err := csvfile.NewReader(strings.NewReader("t,a\n0,"+text+"\n"), "x", m, csvfile.Options{})
		require.NoError(t, err)
		var f frame.Frame
		_, _, err = r.Next(&f)
		require.NoError(t, err)
		require.Equal(t, bad == nil, f.Samples[frame.Flow].OK(), text)
		if bad == nil {
			require.Equal(t, math.Float64bits(want), math.Float64bits(f.Samples[frame.Flow].Value), text)
		}
	})
}

func TestNoGarbagePerRow(t *testing.T) {
	text := ownRecording(t)
	r, err := csvfile.NewReader(bytes.NewReader(text), "own", csvfile.Map{}, csvfile.Options{})
	require.NoError(t, err)
	var f frame.Frame
	require.Zero(t, testing.AllocsPerRun(benchRows/2, func() {
		if _, _, err := r.Next(&f); err != nil {
			t.Fatal(err)
		}
	}))
}
