package dashboard

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/netip"
	"strconv"
	"strings"
	"sync"
	"time"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/machine"
)

// position is how far a reader has come: the start of the program, and the tick
// and the alarm event of it that it saw last. It is the id of every message, so
// that a browser which lost its connection hands it back and gets what it missed.
type position struct {
	start      string
	seq, event uint64
}

func (p position) String() string { return fmt.Sprintf("%s-%d-%d", p.start, p.seq, p.event) }

// parsePosition reads an id. What it can't read is the start.
func parsePosition(s string) (p position, ok bool) {
	parts := strings.Split(s, "-")
	if len(parts) != 3 || parts[0] == "" {
		return position{}, false
	}
	seq, err1 := strconv.ParseUint(parts[1], 10, 64)
	ev, err2 := strconv.ParseUint(parts[2], 10, 64)
	if err1 != nil || err2 != nil {
		return position{}, false
	}
	return position{parts[0], seq, ev}, true
}

// stream sends server-sent events: "alarm" for every alarm that came or went
// since the id that the reader hands back, "tick" for the newest snapshot, and
// "beat" each second, so that a silent machine can be told from a broken line.
// With view=page a tick holds the page's regions that changed; without it, the
// same JSON as /api/v1/status. A reader who misses ticks gets the newest, not
// a queue of old ones.
func (s *server) stream(w http.ResponseWriter, r *http.Request) {
	leave, ok := s.enterStream(addressOf(r))
	if !ok {
		w.Header().Set("Retry-After", "10")
		http.Error(w, "too many live pages are open; close one", http.StatusServiceUnavailable)
		return
	}
	defer leave()
	h := w.Header()
	h.Set("Content-Type", "text/event-stream; charset=utf-8")
	h.Set("X-Accel-Buffering", "no")
	st := &streamer{s: s, w: w, rc: http.NewResponseController(w), prefs: s.prefsOf(r), page: r.URL.Query().Get("view") == "page", whole: r.URL.Query().Has("whole")}
	st.at = s.startAt(r)
	// The server's limit for reading a request would end the stream as well.
	_ = st.rc.SetReadDeadline(time.Time{})
	st.run(r.Context())
}

// holders counts the streams of each address.
type holders struct {
	mu sync.Mutex
	of map[netip.Addr]int
}

// enterStream takes a place for a stream; ok is false where there is none, or
// where one address holds half of all: it must leave some to the others.
func (s *server) enterStream(from netip.Addr) (leave func(), ok bool) {
	h := &s.held
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.of[from] >= maxStreams/2 {
		return nil, false
	}
	select {
	case s.streams <- struct{}{}:
	default:
		return nil, false
	}
	h.of[from]++
	return func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		if h.of[from]--; h.of[from] == 0 {
			delete(h.of, from)
		}
		<-s.streams
	}, true
}

// startAt returns where to go on: at the id that the browser hands back, or at
// the newest event for a reader who is new. A reader from before a restart has
// seen nothing of this start, whatever its numbers are.
func (s *server) startAt(r *http.Request) position {
	begin := position{start: s.feed.Start()}
	for _, id := range []string{r.Header.Get("Last-Event-ID"), r.URL.Query().Get("after")} {
		if p, ok := parsePosition(id); ok {
			if p.start != begin.start {
				return begin
			}
			return p
		}
	}
	if evs := s.feed.Events(0); len(evs) > 0 {
		begin.event = evs[len(evs)-1].ID
	}
	return begin
}

// streamer is one reader.
type streamer struct {
	s     *server
	w     http.ResponseWriter
	rc    *http.ResponseController
	prefs prefs
	page  bool
	// whole is set for a reader who could not make sense of single changes.
	whole bool
	at    position
	// sent holds what the reader has of each region, drawn which charts it has,
	// and trended how far they have come.
	sent    map[string]*outline
	drawn   string
	trended position
	// told is what mattered in the last tick.
	told matter
	buf  bytes.Buffer
}

// run goes on until the reader leaves or is too slow. Errors have nobody to be
// told to: the reader is gone, and comes back by itself with its last id.
func (st *streamer) run(ctx context.Context) {
	st.sent = map[string]*outline{}
	beat := time.NewTicker(beatEvery)
	defer beat.Stop()
	// Asked for before the snapshot is read, or a tick in between is missed.
	wake := st.s.feed.Changed()
	ok := st.send()
	for ok {
		select {
		case <-ctx.Done():
			return
		case <-beat.C:
			st.message("beat", struct{}{})
			ok = st.flush()
		case <-wake:
			if !pause(ctx, st.s.opt.StreamEvery) || st.canWait() && !pause(ctx, st.s.opt.StreamEvery) {
				return
			}
			wake = st.s.feed.Changed()
			ok = st.send()
		}
	}
}

// canWait reports whether a page may wait a pause longer, since nothing
// happened that a person must see at once. It halves the work of an old phone.
func (st *streamer) canWait() bool {
	snap := st.s.feed.Latest()
	return st.page && snap != nil && st.told == matterOf(snap)
}

// matter is what a person must see at once when it changes.
type matter struct {
	level            engine.Level
	calling, blind   int
	machine          machine.State
	alarms, troubles int
}

func matterOf(snap *snapshot.Snapshot) matter {
	vd := &snap.Verdicts
	m := matter{level: vd.Level, calling: vd.Calling, blind: vd.Blind, machine: vd.Machine, troubles: len(snap.Health.System)}
	for i := range vd.Alarms {
		m.alarms = 31*m.alarms + int(vd.Alarms[i].Phase)
	}
	return m
}

func pause(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-t.C:
		return true
	}
}

// send sends the newest snapshot and the alarms up to it, and reports whether
// the reader is still there.
func (st *streamer) send() bool {
	snap := st.s.feed.Latest()
	if snap == nil {
		st.message("beat", struct{}{})
		return st.flush()
	}
	st.at.seq, st.told = snap.Seq, matterOf(snap)
	st.alarms()
	if st.page {
		st.pageTick(snap)
	} else {
		st.message("tick", st.s.status(snap))
	}
	return st.flush()
}

// alarms sends the events that the reader hasn't seen.
func (st *streamer) alarms() {
	evs := st.s.feed.Events(st.at.event)
	for i := range evs {
		st.at.event = evs[i].ID
		st.message("alarm", eventObject(&evs[i]))
	}
}

// pageTick sends what changed in each region: single nodes where the reader's
// region can become the new one by these, else the region whole. The charts
// come whole only when there is another one: the page's script draws them on
// from numbers.
func (st *streamer) pageTick(snap *snapshot.Snapshot) {
	v := st.s.view(st.prefs)
	whole, parts, nodes := map[string]string{}, map[string][]change{}, map[string]int{}
	tick := object{"seq": snap.Seq, "build": st.s.build, "old": v.Head.Old, "regions": whole, "changes": parts, "nodes": nodes, "calling": v.Calling, "call_level": v.CallLevel}
	if st.trended.seq > 0 {
		tick["trend"] = st.s.trendTick(st.prefs, snap, st.trended)
	}
	st.trended = st.at
	drawn := charted(snap)
	if drawn != st.drawn {
		v.Charts = st.s.drawnCharts(st.prefs)
	}
	for _, name := range regions() {
		if name == "charts" && drawn == st.drawn {
			continue
		}
		html, err := st.s.fragment(name, v)
		if err != nil {
			st.s.log.Error("cannot make a part of the page", "part", name, "err", err)
			continue
		}
		was := st.sent[name]
		if was != nil && was.source == html {
			continue
		}
		now := outlineOf(html)
		st.sent[name] = &now
		nodes[name] = len(now.nodes)
		// A part that is empty now may not be on the page that came back.
		if was != nil && !st.whole && name != "charts" {
			if list, ok := changes(was, &now); ok {
				parts[name] = list
				continue
			}
		}
		whole[name] = html
	}
	st.drawn = drawn
	st.message("tick", tick)
}

// message appends one event to the buffer.
func (st *streamer) message(event string, data any) {
	body, err := json.Marshal(data)
	if err != nil {
		st.s.log.Error("cannot write an event", "event", event, "err", err)
		return
	}
	fmt.Fprintf(&st.buf, "id: %s\nevent: %s\ndata: %s\n\n", st.at, event, body)
}

// flush hands the buffer to the network, within a time that no healthy reader
// needs. It reports whether that worked.
func (st *streamer) flush() bool {
	defer st.buf.Reset()
	if err := st.rc.SetWriteDeadline(time.Now().Add(writeWithin)); err != nil && !notSupported(err) {
		return false
	}
	if _, err := st.w.Write(st.buf.Bytes()); err != nil {
		return false
	}
	return st.rc.Flush() == nil
}
