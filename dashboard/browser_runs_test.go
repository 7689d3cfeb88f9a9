package dashboard

import (
	"math"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/daemon/review/recordtest"
	"headroom/daemon/store"
	"headroom/dashboard/webtest"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// runPages are the pages of runs by the name of their picture.
var runPages = map[string]string{
	"runs": "/runs", "runs_found": "/runs?q=cavit&incidents=1", "run": "/runs/1.1", "run_closer": "/runs/1.1?from=55&to=75&see=3#chart",
	"compare": "/runs/compare?a=1.1&b=1.1", "whatif": "/runs/1.1/whatif?set=" + url.QueryEscape(`rules.inlet_low.act = "1 psi"`),
}

func TestBrowserRunPages(t *testing.T) {
	b := webtest.New(t)
	s, _ := morning(t)
	srv := httptest.NewServer(s.handler())
	t.Cleanup(srv.Close)
	for name, path := range runPages {
		for _, scr := range screens {
			t.Run(name+" "+scr.name, func(t *testing.T) {
				b.Do(t, chromedp.EmulateViewport(scr.w, scr.h), chromedp.Navigate(srv.URL+path))
				b.NoSideScroll(t)
				b.Targets(t)
				b.Letters(t)
				b.Axe(t)
				b.Shoot(t, name+"_"+scr.name)
			})
		}
	}
	require.Empty(t, b.Problems())
}

// The pointer reads every channel at the moment where it is, within sight of it.
// What is wanted is what the record itself holds of that moment.
func TestBrowserReadsTheMomentPointedAt(t *testing.T) {
	b := webtest.New(t)
	s, rec := morning(t)
	srv := httptest.NewServer(s.handler())
	t.Cleanup(srv.Close)
	id := store.RunID{Boot: 1, N: 1}
	run, err := rec.Run(t.Context(), id)
	require.NoError(t, err)
	seen := map[string]bool{}
	for _, scr := range screens {
		b.Do(t, chromedp.EmulateViewport(scr.w, scr.h), chromedp.Navigate(srv.URL+"/runs/1.1"))
		for _, share := range []float64{0.3, 0.7} {
			shown := pointAt(t, b, share)
			at := spanShown(t, b)
			// Two spans of the series on each side: a place is no finer than a pixel.
			mid, side := run.Start+seconds(at[0]+share*(at[1]-at[0])), seconds((at[1]-at[0])/150)
			for ch, form := range map[frame.Channel]string{frame.InletPressure: `Inlet pressure ([\d.−-]+)(?: to ([\d.−-]+))? kPa`, frame.Flow: `Flow ([\d.]+)(?: to ([\d.]+))? L/min`} {
				bs, err := rec.Buckets(t.Context(), store.RunID{Boot: 1}, ch, mid-side, mid+side, 1)
				require.NoError(t, err)
				u := units.For(ch.Quantity(), units.SI)
				m := regexp.MustCompile(form).FindStringSubmatch(shown)
				require.NotNil(t, m, "%s in %q", form, shown)
				for _, text := range m[1:] {
					if text == "" {
						continue
					}
					v, err := strconv.ParseFloat(text, 64)
					require.NoError(t, err)
					slack := math.Pow(10, -float64(u.Decimals))
					require.GreaterOrEqual(t, v, u.FromSI(bs[0].Min)-slack, "%s at %g on %s", ch, share, scr.name)
					require.LessOrEqual(t, v, u.FromSI(bs[0].Max)+slack, "%s at %g on %s", ch, share, scr.name)
				}
				seen[m[0]] = true
			}
			require.Contains(t, shown, "Running on", "a switch is on or off here as on the live page")
		}
		b.Shoot(t, "run_read_"+scr.name)
	}
	require.Greater(t, len(seen), 2, "the two moments differ, or this shows nothing")
	require.Empty(t, b.Problems())
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// pointAt brings the sheet's upper edge to the top of the window, moves the
// mouse to a share of its time axis, and returns what the read-out says once it
// can be seen.
func pointAt(t *testing.T, b *webtest.Browser, share float64) string {
	t.Helper()
	at := webtest.Ask[[]float64](t, b, sheetPlace(share))
	_, err := chromedp.Call(b.Ctx, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: input.DispatchMouseEventTypeMouseMoved, X: at[0], Y: at[1]})
	require.NoError(t, err)
	b.Wait(t, `!document.querySelector("[data-readout]").hidden`)
	require.Empty(t, webtest.Ask[string](t, b, `(() => {
		const e = document.querySelector("[data-readout]"), r = e.getBoundingClientRect();
		const hit = document.elementFromPoint(r.left + r.width / 2, r.top + r.height / 2);
		if (r.top < 0 || r.bottom > innerHeight + 1) return "it lies at " + r.top + " to " + r.bottom + " of " + innerHeight;
		if (r.height > innerHeight / 2) return "it covers the sheet: " + r.height;
		if (!e.checkVisibility({opacityProperty: true, visibilityProperty: true})) return "it can't be seen";
		return e.contains(hit) ? "" : "it is covered by " + hit?.outerHTML.slice(0, 80);
	})()`))
	return webtest.Ask[string](t, b, `document.querySelector("[data-readout]").textContent`)
}

// sheetPlace scrolls to the sheet and gives the place of a share of its axis, in
// its first panel.
func sheetPlace(share float64) string {
	return strings.ReplaceAll(`(() => {
		const svg = [...document.querySelectorAll("[data-look] svg.sheet")].find((e) => e.checkVisibility());
		svg.scrollIntoView({block: "start", behavior: "instant"});
		const r = svg.querySelector(".plot").getBoundingClientRect();
		return [r.left + r.width * SHARE, (r.top + r.bottom) / 2];
	})()`, "SHARE", strconv.FormatFloat(share, 'f', -1, 64))
}

// A finger that goes along the sheet looks closer, and one that goes up moves
// the page; both as the browser itself takes them, with its own mind about what
// is a scroll. The chart fits each screen.
func TestBrowserReadsAndLooksCloser(t *testing.T) {
	b := webtest.New(t)
	s, _ := morning(t)
	srv := httptest.NewServer(s.handler())
	t.Cleanup(srv.Close)
	b.Touch(t)
	for _, scr := range screens {
		t.Run(scr.name, func(t *testing.T) {
			b.Do(t, chromedp.EmulateViewport(scr.w, scr.h), chromedp.Navigate(srv.URL+"/runs/1.1"))
			require.Zero(t, webtest.Ask[float64](t, b, `(() => { const e = document.querySelector(".sheetbox"); return e.scrollWidth - e.clientWidth; })()`), "the chart is wider than its place")
			whole := spanShown(t, b)
			from := webtest.Ask[[]float64](t, b, sheetPlace(0.4))
			before := webtest.Ask[float64](t, b, `scrollY`)
			swipe(t, b, from, []float64{from[0], from[1] - 90})
			b.Wait(t, `scrollY !== `+strconv.FormatFloat(before, 'f', -1, 64))
			require.Empty(t, webtest.Ask[string](t, b, `location.search`), "a finger that goes up chooses nothing")

			from, to := webtest.Ask[[]float64](t, b, sheetPlace(0.4)), webtest.Ask[[]float64](t, b, sheetPlace(0.6))
			swipe(t, b, from, to)
			require.Eventually(t, func() bool { // while the page changes, nothing answers
				there, err := chromedp.Run(b.Ctx, chromedp.Evaluate[bool](`location.search.includes("from=") && document.readyState === "complete"`))
				return err == nil && there
			}, 15*time.Second, 50*time.Millisecond)
			closer, length := spanShown(t, b), whole[1]-whole[0]
			require.InDelta(t, whole[0]+0.4*length, closer[0], 0.02*length)
			require.InDelta(t, whole[0]+0.6*length, closer[1], 0.02*length)
		})
	}
	require.Empty(t, b.Problems())
}

// swipe moves a finger from one place to another.
func swipe(t *testing.T, b *webtest.Browser, from, to []float64) {
	t.Helper()
	touch := func(kind input.DispatchTouchEventType, at ...*input.TouchPoint) {
		_, err := chromedp.Call(b.Ctx, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: append([]*input.TouchPoint{}, at...)})
		require.NoError(t, err)
	}
	const steps = 8
	touch(input.DispatchTouchEventTypeTouchStart, &input.TouchPoint{X: from[0], Y: from[1]})
	for i := 1; i <= steps; i++ {
		share := float64(i) / steps
		touch(input.DispatchTouchEventTypeTouchMove, &input.TouchPoint{X: from[0] + share*(to[0]-from[0]), Y: from[1] + share*(to[1]-from[1])})
	}
	touch(input.DispatchTouchEventTypeTouchEnd)
}

// spanShown is what the page that is open shows, from and to in seconds.
func spanShown(t *testing.T, b *webtest.Browser) []float64 {
	t.Helper()
	return webtest.Ask[[]float64](t, b, `(() => { const d = document.querySelector("[data-looks]").dataset; return [Number(d.from), Number(d.to)]; })()`)
}

// Two runs that stand together are read at one moment after their starts, and a
// drag across either looks closer at both; without the script the links do.
func TestBrowserLooksAtTwoRunsAtOnce(t *testing.T) {
	b := webtest.New(t)
	// The machine stands from 1:30 to 1:40, so that there are two runs; the hose is
	// kinked at the end of the first and at the start of the second.
	s, rec := over(t, recordtest.Play(t, recordtest.Script{Scenario: "kinked_hose", HoldOff: 5 * time.Second, Spoil: func(at time.Duration, f *frame.Frame) bool {
		if at > 90*time.Second && at < 100*time.Second {
			for _, ch := range []frame.Channel{frame.MotorCurrent, frame.ShaftSpeed, frame.Flow, frame.Running, frame.Vibration, frame.InletPulsation} {
				f.Set(ch, 0)
			}
		}
		return true
	}}))
	srv := httptest.NewServer(s.handler())
	t.Cleanup(srv.Close)
	var runs [2]store.Run
	for i := range runs {
		var err error
		runs[i], err = rec.Run(t.Context(), store.RunID{Boot: 1, N: i + 1})
		require.NoError(t, err)
	}
	for _, scr := range screens {
		t.Run(scr.name, func(t *testing.T) {
			b.Do(t, chromedp.EmulateViewport(scr.w, scr.h), chromedp.Navigate(srv.URL+"/runs/compare?a=1.2&b=1.1"))
			whole := spanShown(t, b)
			shown := pointAt(t, b, 0.97)
			require.Regexp(t, `Flow not recorded · [\d.]+`, shown, "the other run was over by then")
			shown = pointAt(t, b, 0.15)
			m := regexp.MustCompile(`Inlet pressure (-?[\d.]+)(?: to -?[\d.]+)? kPa · (-?[\d.]+)`).FindStringSubmatch(shown)
			require.NotNil(t, m, shown)
			require.NotEqual(t, m[1], m[2], "or this can't tell them apart")
			for i, text := range m[1:] {
				at := runs[1-i].Start + seconds(whole[0]+0.15*(whole[1]-whole[0]))
				bs, err := rec.Buckets(t.Context(), store.RunID{Boot: 1}, frame.InletPressure, at-time.Second, at+time.Second, 1)
				require.NoError(t, err)
				v, err := strconv.ParseFloat(text, 64)
				require.NoError(t, err)
				u := units.For(frame.InletPressure.Quantity(), units.SI)
				require.True(t, v >= u.FromSI(bs[0].Min)-1 && v <= u.FromSI(bs[0].Max)+1, "%g is not within %+v", v, bs[0])
			}
			lines := webtest.Ask[[]float64](t, b, `[...document.querySelectorAll("svg.sheet")].filter((e) => e.checkVisibility()).map((e) => e.querySelector(".cursor").getBoundingClientRect().left)`)
			require.Len(t, lines, 2)
			require.InDelta(t, lines[0], lines[1], 0.5, "one cursor on both")
			b.Shoot(t, "compare_read_"+scr.name)

			from, to := webtest.Ask[[]float64](t, b, sheetPlace(0.4)), webtest.Ask[[]float64](t, b, sheetPlace(0.6))
			mouse := func(kind input.DispatchMouseEventType, at []float64) {
				_, err := chromedp.Call(b.Ctx, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: kind, X: at[0], Y: at[1], Button: input.MouseButtonLeft, ClickCount: 1})
				require.NoError(t, err)
			}
			mouse(input.DispatchMouseEventTypeMousePressed, from)
			mouse(input.DispatchMouseEventTypeMouseMoved, to)
			mouse(input.DispatchMouseEventTypeMouseReleased, to)
			require.Eventually(t, func() bool {
				there, err := chromedp.Run(b.Ctx, chromedp.Evaluate[bool](`location.search.includes("from=") && location.search.includes("b=1.1") && document.readyState === "complete"`))
				return err == nil && there
			}, 15*time.Second, 50*time.Millisecond)
			closer := spanShown(t, b)
			require.InDelta(t, 0.2*(whole[1]-whole[0]), closer[1]-closer[0], 0.02*(whole[1]-whole[0]))
			require.Len(t, webtest.Ask[[]string](t, b, `[...new Set([...document.querySelectorAll("svg.sheet desc")].map((e) => e.textContent))]`), 1, "both show the same part")
		})
	}
	require.Empty(t, b.Problems())
	page := pageText(t, s.handler(), "/runs/compare?a=1.2&b=1.1", 200)
	closer := linkCalled(page, "Closer")
	require.Contains(t, closer, "a=1.2&b=1.1")
	require.NotEqual(t, linkCalled(page, "Whole run"), closer)
	require.Contains(t, pageText(t, s.handler(), closer, 200), "<svg class=\"sheet")
}

// On a phone every column of these tables is on the screen, and no word or date
// in them is broken in two.
func TestBrowserTablesOnAPhone(t *testing.T) {
	b := webtest.New(t)
	s, _ := morning(t)
	s.opt.Bench = newFakeBench(t)
	s = newServer(s.opt, steady().feed())
	test := strings.TrimSuffix(send(s.handler(), "/bench/new", planForm(), nil).Header.Get("Location"), "?said=begun")
	require.NotEmpty(t, test)
	srv := httptest.NewServer(s.handler())
	t.Cleanup(srv.Close)
	for name, path := range map[string]string{"run": "/runs/1.1", "benchnew": "/bench/new", "benchtest": test} {
		for _, w := range []int64{320, 360} {
			b.Do(t, chromedp.EmulateViewport(w, 640), chromedp.Navigate(srv.URL+path), chromedp.WaitVisible("table.rows"))
			require.Empty(t, webtest.Ask[[]string](t, b, `[...document.querySelectorAll("table.rows :is(td, tbody th)")].filter((e) => e.checkVisibility() && e.getBoundingClientRect().right > innerWidth).map((e) => e.outerHTML.slice(0, 80))`), "%s at %d: off the screen", name, w)
			require.Empty(t, webtest.Ask[[]string](t, b, `[...document.querySelectorAll("table.rows :is(td, th)")].flatMap((cell) => {
				const walk = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT), broken = [];
				for (let n = walk.nextNode(); n; n = walk.nextNode()) for (const m of n.data.matchAll(/\d{4}-\d\d-\d\d|[\p{L}\d.]+/gu)) {
					const r = document.createRange();
					r.setStart(n, m.index);
					r.setEnd(n, m.index + m[0].length);
					if (new Set([...r.getClientRects()].map((q) => Math.round(q.top))).size > 1) broken.push(m[0]);
				}
				return broken;
			})`), "%s at %d: broken words", name, w)
			b.NoSideScroll(t)
			b.Shoot(t, "table_"+name+"_"+strconv.FormatInt(w, 10))
		}
	}
	require.Empty(t, b.Problems())
}
