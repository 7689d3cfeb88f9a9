//go:build rig

package rig

import (
	"encoding/json"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/rig/nbd"
)

// recordingImage has the daemon and the recorder that looks at its record.
var recordingImage = image(Contents{
	Programs: []Program{
		{Package: "headroom/daemon", Path: "/headroom"},
		{Package: "headroom/deploy/rig/recorder", Path: "/recorder", Tags: "rig"},
	},
})

// told is what the daemon has told of itself.
type told struct {
	// acts were confirmed as recorded, in order: "shelve inlet_low.warn".
	acts []string
	// shown is the newest tick that its page showed.
	shown time.Duration
}

// witness hears what the daemon tells.
type witness struct {
	mu    sync.Mutex
	asked string // the act that was asked for and has no answer yet
	told
	heard func(told)
}

var uptime = regexp.MustCompile(`"uptime_seconds":([0-9.e+-]+)`)

// hear takes a line as it arrives.
func (w *witness) hear(line string) {
	w.mu.Lock()
	var heard func(told)
	if m := uptime.FindStringSubmatch(line); m != nil {
		s, _ := strconv.ParseFloat(m[1], 64)
		w.shown = max(w.shown, time.Duration(s*float64(time.Second)))
	}
	if strings.Contains(line, `"recorded":true`) && w.asked != "" {
		w.acts, w.asked = append(w.acts, w.asked), ""
		heard = w.heard
	}
	now := told{slices.Clone(w.acts), w.shown}
	w.mu.Unlock()
	if heard != nil {
		heard(now)
	}
}

func (w *witness) now() told {
	w.mu.Lock()
	defer w.mu.Unlock()
	return told{slices.Clone(w.acts), w.shown}
}

// TestPowerCutsOfTheDaemon cuts the power of the daemon itself, with its
// simulator, while somebody shelves an alarm and takes it back over and over:
// every act that was confirmed is in the record, and every frame up to the last
// second; and the daemon goes on from there. Transitions are the matter of
// TestPowerCuts, whose recorder knows when one is safe.
func TestPowerCutsOfTheDaemon(t *testing.T) {
	plugs, pictures := 1, 4
	if *long {
		plugs, pictures = 5, 9
	}
	c := newCuts(t)
	for range plugs {
		r := &recording{cuts: c}
		r.boot(freshCard(t))
		r.cycle(pictures)
	}
	t.Logf("%d cuts; of unflushed sectors %d were kept and %d lost", c.cuts, c.kept, c.lost)
}

// recording is a daemon that records on the disk.
type recording struct {
	*cuts
	d     *daemon
	w     *witness
	token string
	asked int
}

// boot boots the guest with that disk.
func (r *recording) boot(content []byte) {
	r.t.Helper()
	r.card, r.w = insert(r.t, content, r.random.Uint64()), &witness{}
	r.d = &daemon{guest: bootImage(r.t, recordingImage, Options{Disk: r.card.socket, Log: r.w.hear})}
}

// cut is a disk after a cut, and what had been told before it.
type cut struct {
	nbd.Outcome
	told
}

// cycle records, takes pictures, pulls the plug, and checks all of that in
// another boot.
func (r *recording) cycle(pictures int) {
	r.t.Helper()
	r.begin()
	list := r.picture(pictures)
	list = append(list, r.pull())
	r.boot(list[len(list)-1].Image)
	for _, k := range list {
		r.judge(k)
	}
	r.again(list[len(list)-1])
	r.d.end()
}

// begin starts the daemon and gives it the PIN.
func (r *recording) begin() {
	r.t.Helper()
	r.d.do("disk mount")
	r.start("first")
	lines := r.d.program(30*time.Second, "pin", "/headroom pin new -record /data/record")
	_, pin, found := strings.Cut(lines[0], "The PIN of this device: ")
	require.True(r.t, found, lines)
	pin = strings.ReplaceAll(pin, " ", "") // it is shown in groups
	var session struct{ Token string }
	require.NoError(r.t, json.Unmarshal([]byte(r.d.do("post /api/v1/session pin=%s", pin)), &session))
	r.token = session.Token
}

func (r *recording) start(name string) {
	r.t.Helper()
	r.d.firstPage(name, "-record /data/record")
}

// act does the next thing and waits for its answer.
func (r *recording) act() {
	r.t.Helper()
	what := []string{"shelve", "unshelve"}[r.asked%2]
	r.asked++
	r.w.mu.Lock()
	r.w.asked = what + " inlet_low.warn"
	r.w.mu.Unlock()
	answer, err := r.d.Do("post /api/v1/alarms/inlet_low.warn/%s shelf=15m&who=invented %s", what, r.token)
	if err == nil {
		require.Contains(r.t, answer.Text, `"recorded":true`)
	} else {
		require.ErrorContains(r.t, err, "answered") // a conflict, after an act whose answer was lost
	}
	r.d.look()
}

// picture goes on with acts until all pictures are taken: half when an act was
// confirmed, half in the middle of the disk's work.
func (r *recording) picture(pictures int) (list []cut) {
	r.t.Helper()
	taken := make(chan cut, pictures)
	r.d.look()
	r.card.disk.PictureAt(instants(r.random, r.card.disk.Work(), pictures-pictures/2, 300), func(o nbd.Outcome) {
		taken <- cut{o, r.w.now()}
	})
	acts, n := instants(r.random, 0, pictures/2, 20), 0
	r.w.mu.Lock()
	r.w.heard = func(now told) {
		for n++; len(acts) > 0 && n >= acts[0]; acts = acts[1:] {
			taken <- cut{r.card.disk.Picture(), now}
		}
	}
	r.w.mu.Unlock()
	for end := time.Now().Add(2 * time.Minute); len(list) < pictures; {
		select {
		case k := <-taken:
			list = append(list, k)
		default:
			require.True(r.t, time.Now().Before(end), "%d of %d pictures", len(list), pictures)
			r.act()
		}
	}
	return list
}

// pull pulls the plug at one of the next requests. What the page shows after
// that is of a machine without power; an act that is confirmed is safe whenever
// its answer arrives.
func (r *recording) pull() cut {
	r.t.Helper()
	writes, _ := r.card.disk.Counts()
	disk := r.card.disk
	disk.SetFaults(nbd.Faults{CutAtWrite: writes + 1 + r.random.IntN(20)})
	shown := make(chan time.Duration, 1)
	go func() { <-disk.Off(); shown <- r.w.now().shown }()
	for end := time.Now().Add(time.Minute); len(shown) == 0; {
		require.True(r.t, time.Now().Before(end), "the disk was never cut")
		_, _ = r.d.Do("fetch /api/v1/status") // fails once the power is off
	}
	r.d.Kill()
	k := cut{disk.Cut(), r.w.now()}
	k.shown = <-shown
	return k
}

// judge opens what a cut left.
func (r *recording) judge(k cut) {
	r.t.Helper()
	f, err := r.d.opened(r.card, k.Image, "look /data/record")
	require.NoError(r.t, err)
	require.Empty(r.t, f.wrong)
	var acts []string
	for _, n := range f.notes {
		if w := strings.Fields(n); w[0] == "act" && strings.HasSuffix(w[2], "shelve") {
			acts = append(acts, w[2]+" "+w[3])
		}
	}
	require.GreaterOrEqual(r.t, len(acts), len(k.acts), "acts that were confirmed")
	require.Equal(r.t, k.acts, acts[:len(k.acts)])
	late := k.shown - f.last[1]
	r.t.Logf("cut at %.1f s after %d confirmed acts: %d acts found; frames up to %.1f s, longest gap %v; %d unflushed sectors kept, %d lost%s",
		k.shown.Seconds(), len(k.acts), len(acts), f.last[1].Seconds(), f.gap[1], k.Kept, k.Lost, f.mended)
	// A pause of the host is one of the guest, and shows between frames too.
	require.LessOrEqual(r.t, late, lastSecond+f.gap[1], "of frames no more than the last second is lost")
	r.cuts.cuts++
	r.kept, r.lost = r.kept+k.Kept, r.lost+k.Lost
}

// lastSecond is a second, and the tick in which its sync is under way.
const lastSecond = 1100 * time.Millisecond

// again starts the daemon on what the plug left.
func (r *recording) again(k cut) {
	r.t.Helper()
	mended, err := r.d.mount(r.card, k.Image)
	require.NoError(r.t, err)
	r.start("again")
	lines := r.d.program(30*time.Second, "list", "/headroom record list -record /data/record")
	r.t.Logf("the daemon goes on %s\n%s", mended, strings.Join(lines, "\n"))
	r.d.do("child signal again KILL")
	r.d.do("disk umount")
}
