package review

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/store"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// TestBlindTimeIsNotUnderstated: a sensor that flickers, and a record full of
// holes, count in full, however many times that is and however short each is.
// Source: a reading stands for a tenth of a second, until the next one.
func TestBlindTimeIsNotUnderstated(t *testing.T) {
	for _, x := range []struct {
		name   string
		frames int
		bad    func(i int) bool
		pause  func(i int) time.Duration
		wants  []string
	}{
		{"one bad reading in two, for a minute", 600, func(i int) bool { return i%2 == 1 }, nil, []string{"Flow is not known for 30 s in all"}},
		{
			"one bad reading in thirty, three hundred times", 9000, func(i int) bool { return i%30 == 7 }, nil,
			[]string{"Flow is not known for 30 s in all", "lost 300 times, and only the first 200"},
		},
		{"a single bad second", 100, func(i int) bool { return i >= 50 && i < 60 }, nil, []string{"Flow is not known for 1.0 s in all"}},
		{
			"six hundred holes of six seconds", 1200, nil, func(i int) time.Duration { return time.Duration(i%2) * 6 * time.Second },
			[]string{"For 60 min 00 s no frames were recorded"},
		},
	} {
		o := &odd{run: store.Run{ID: RunID{Boot: 1, N: 1}, Start: 1}}
		at := time.Duration(0)
		for i := range x.frames {
			if at += 100 * time.Millisecond; x.pause != nil && x.pause(i) > 0 {
				at += x.pause(i) - 100*time.Millisecond
			}
			st := frame.Good
			if x.bad != nil && x.bad(i) {
				st = frame.Failed
			}
			o.ticks = append(o.ticks, oddTick(at, frame.Flow, 1e-4, st))
		}
		o.run.End = at
		told := ""
		a := latest(t, o)
		for i := range a.CannotTell {
			told += a.CannotTell[i].Text(units.SI) + "\n"
		}
		for _, want := range x.wants {
			require.Contains(t, told, want, x.name)
		}
		if x.pause != nil {
			gaps := ""
			for i := range a.Sentences {
				if a.Sentences[i].Kind == KindGap {
					gaps += a.Sentences[i].Text(units.SI) + "\n"
				}
			}
			require.Equal(t, maxTold+1, strings.Count(gaps, "\n"))
			require.Contains(t, gaps, "There are 580 further gaps after this one", x.name)
		}
		requireSound(t, o)
	}
}
