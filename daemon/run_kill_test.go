package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/rerun"
	"headroom/daemon/snapshot"
	"headroom/daemon/store"
	"headroom/deploy/rig/emulated"
	"headroom/deploy/testneed"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

const (
	// killSpeed makes the demo raise its alarms within seconds.
	killSpeed = 10.0
	// keptSafe is when all that was seen must be safe: a sync each second, and
	// alarms at once, with a bit for a busy machine.
	keptSafe, alarmSafe = 1500 * time.Millisecond, 500 * time.Millisecond
)

// killed is one life of the program and what was seen of it.
type killed struct {
	t     *testing.T
	url   string
	token string
	mu    sync.Mutex
	// acts were confirmed; out is whether outAlarm is out of service by the
	// last confirmed word, doubt while an answer was missing.
	acts       []deedSeen
	out, doubt bool
	// ticks and events as they were seen.
	ticks  []seen
	events []seen
}

type deedSeen struct {
	alarm, act string
	uptime     float64
}

// seen is something of the program's time, and when it was seen.
type seen struct {
	uptime float64
	name   string
	at     time.Time
}

// outAlarm is taken out of service and put back for as long as the program
// lives: how it stands must outlive a kill.
var outAlarm = engine.SensorAlarm(frame.TankLevel)

// restless raises and clears alarms every few seconds: an invented job.
func restless() string {
	var b strings.Builder
	fmt.Fprint(&b, "title = \"Restless\"\ninvented = true\nseed = 7\nend = \"5:00\"\ntimeline = [\n\"0:01 tap on\", \"0:02 trigger open\", \"0:04 switch on\",\n")
	for s := 12; s < 290; s += 12 {
		fmt.Fprintf(&b, "\"%d:%02d fault kinked_hose 98.8 %% until %d:%02d\",\n", s/60, s%60, (s+6)/60, (s+6)%60)
	}
	fmt.Fprint(&b, "]\nexpect = []\n")
	return b.String()
}

// TestKilledDaemonLosesNothingThatWasConfirmed kills the program itself at
// random instants, again and again over the same folder. After each kill the
// record opens, holds every frame but those of the last second, every alarm
// that was seen and every act that was confirmed, and the alarms begin as they
// stood.
func TestKilledDaemonLosesNothingThatWasConfirmed(t *testing.T) {
	tool := testneed.Program(t, "golang", "go")
	bin, dir := filepath.Join(t.TempDir(), "headroom"), t.TempDir()
	out, err := exec.CommandContext(t.Context(), tool, "build", "-o", bin, ".").CombinedOutput()
	require.NoError(t, err, string(out))
	pin := regexp.MustCompile(`PIN of this device: (.+)`)
	out, err = emulated.Command(t.Context(), bin, "pin", "new", "-record", dir).CombinedOutput()
	require.NoError(t, err, string(out))
	rounds := 5
	if testing.Short() {
		rounds = 2
	}
	job := write(t, "restless.toml", restless())
	seenAlarms := 0
	var before *killed
	for round := range rounds {
		k := &killed{t: t}
		k.live(pin.FindStringSubmatch(string(out))[1], bin, "run", "-record", dir, "-scenario", job)
		seenAlarms += len(k.events)
		checkKilled(t, dir, uint64(round)+1, k, before)
		before = k
	}
	require.NotZero(t, seenAlarms, "or the alarms were not tried")
}

// live runs the program, does things to it, and kills it.
func (k *killed) live(pin, bin string, args ...string) {
	child := emulated.Command(k.t.Context(), bin, append(args, "-listen", "127.0.0.1:0", "-speed", fmt.Sprint(killSpeed))...)
	var log strings.Builder
	child.Stderr = &log
	stdout, err := child.StdoutPipe()
	require.NoError(k.t, err)
	require.NoError(k.t, child.Start())
	defer func() {
		if k.t.Failed() {
			k.t.Log(log.String())
		}
	}()
	lines := bufio.NewScanner(stdout)
	for k.url == "" && lines.Scan() {
		if _, rest, ok := strings.Cut(lines.Text(), "Dashboard: "); ok {
			k.url, _, _ = strings.Cut(rest, " ")
		}
	}
	require.NotEmpty(k.t, k.url, "the program says where it serves")
	go func() { _, _ = io.Copy(io.Discard, stdout) }()
	k.token, _ = k.post("api/v1/session", url.Values{"pin": {pin}})["token"].(string)
	require.NotEmpty(k.t, k.token, "the PIN opens the door")

	stop := make(chan struct{})
	var all sync.WaitGroup
	all.Go(func() { k.until(stop, k.watch) })
	all.Go(func() { k.until(stop, k.actOnAlarms) })
	all.Go(func() { k.until(stop, k.inAndOut) })
	time.Sleep(2*time.Second + time.Duration(rand.Int64N(int64(4*time.Second))))
	require.NoError(k.t, child.Process.Kill()) // SIGKILL: no handler, no farewell
	close(stop)
	all.Wait()
	require.Error(k.t, child.Wait())
}

func (k *killed) until(stop <-chan struct{}, do func()) {
	for {
		select {
		case <-stop:
			return
		case <-time.After(20 * time.Millisecond):
			do()
		}
	}
}

// get and post return nil when the program is gone.
func (k *killed) get(path string) map[string]any {
	return k.ask(http.NewRequest(http.MethodGet, k.url+path, nil))
}

func (k *killed) post(path string, form url.Values) map[string]any {
	r, err := http.NewRequest(http.MethodPost, k.url+path, strings.NewReader(form.Encode()))
	if err == nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Authorization", "Bearer "+k.token)
	}
	return k.ask(r, err)
}

func (k *killed) ask(r *http.Request, err error) (body map[string]any) {
	require.NoError(k.t, err)
	client := http.Client{Timeout: 5 * time.Second}
	resp, err := client.Do(r)
	if err != nil {
		return nil
	}
	defer resp.Body.Close()
	if json.NewDecoder(resp.Body).Decode(&body) != nil {
		return nil
	}
	return body
}

// watch notes the newest tick and the newest alarms.
func (k *killed) watch() {
	events, status := k.get(fmt.Sprintf("api/v1/events?after=%d", len(k.events))), k.get("api/v1/status")
	now := time.Now()
	if events == nil || status == nil {
		return
	}
	k.ticks = append(k.ticks, seen{uptime: status["uptime_seconds"].(float64), at: now})
	for _, e := range events["events"].([]any) {
		o := e.(map[string]any)
		k.events = append(k.events, seen{o["uptime_seconds"].(float64), fmt.Sprint(o["alarm"], o["raised"]), now})
	}
}

// confirmed notes an act that was confirmed as recorded.
func (k *killed) confirmed(body map[string]any) (ok bool) {
	if body == nil || body["recorded"] != true {
		return false
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	for _, d := range body["done"].([]any) {
		o := d.(map[string]any)
		k.acts = append(k.acts, deedSeen{o["alarm"].(string), o["act"].(string), o["uptime_seconds"].(float64)})
	}
	return true
}

func (k *killed) actOnAlarms() {
	k.confirmed(k.post("api/v1/alarms/all/acknowledge", nil))
	id := engine.AlarmID(rand.IntN(engine.NumAlarms))
	if id != outAlarm {
		k.confirmed(k.post("api/v1/alarms/"+id.String()+"/shelve", url.Values{"shelf": {"15m"}}))
		k.confirmed(k.post("api/v1/alarms/"+id.String()+"/unshelve", nil))
	}
}

func (k *killed) inAndOut() {
	act := "take_out"
	if k.out {
		act = "put_back"
	}
	k.doubt = true
	body := k.post("api/v1/alarms/"+outAlarm.String()+"/"+act, nil)
	if k.confirmed(body) {
		k.out, k.doubt = !k.out, false
	} else if body != nil && body["error"] != nil { // as it was left by the life before
		k.out, k.doubt = !k.out, false
	}
}

// checkKilled looks at what a life left behind.
func checkKilled(t *testing.T, dir string, boot uint64, k, before *killed) {
	r, err := store.OpenReader(dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, r.Close()) }()
	ctx, id := t.Context(), store.RunID{Boot: boot}
	var last time.Duration
	frames := 0
	for tick, err := range r.Frames(ctx, id, 0, 0) {
		require.NoError(t, err)
		require.Greater(t, tick.T, last)
		last = tick.T
		frames++
	}
	end := k.ticks[len(k.ticks)-1].at // soon before the kill, and a bit after the tick it saw
	for _, s := range k.ticks {
		if end.Sub(s.at) > keptSafe {
			require.GreaterOrEqual(t, last.Seconds(), s.uptime, "a frame %v before the kill is lost", end.Sub(s.at))
		}
	}
	events, err := r.Events(ctx, id)
	require.NoError(t, err)
	there := map[string]bool{}
	for i := range events {
		there[fmt.Sprintf("%.3f %s%v", events[i].T.Seconds(), events[i].Alarm, events[i].Raised)] = true
	}
	for _, e := range k.events {
		if end.Sub(e.at) > alarmSafe {
			require.Contains(t, there, fmt.Sprintf("%.3f %s", e.uptime, e.name))
		}
	}
	acts, err := r.Acts(ctx, id)
	require.NoError(t, err)
	done := map[string]bool{}
	for i := range acts {
		done[fmt.Sprintf("%.3f %s %s", acts[i].T.Seconds(), acts[i].What, acts[i].Alarm)] = true
	}
	for _, a := range k.acts {
		require.Contains(t, done, fmt.Sprintf("%.3f %s %s", a.uptime, a.act, a.alarm), "it was confirmed")
	}
	t.Logf("boot %d: %d frames to %v, %d alarms seen, %d acts confirmed", boot, frames, last, len(k.events), len(k.acts))
	require.NotEmpty(t, k.acts)
	checkAgain(t, r, boot, before)
}

// checkAgain runs the boot once more: the alarms of the record must come out of
// its frames, and it must have begun as the life before was left.
func checkAgain(t *testing.T, r *store.Reader, boot uint64, before *killed) {
	res, err := rerun.Run(t.Context(), r, store.RunID{Boot: boot}, rerun.Options{})
	require.NoError(t, err)
	require.Empty(t, res.Lost)
	events, err := r.Events(t.Context(), store.RunID{Boot: boot})
	require.NoError(t, err)
	raised := uint64(0)
	for i := range events {
		if events[i].Raised {
			raised++
		}
	}
	total := uint64(0)
	for _, n := range res.Totals.Raised {
		total += n
	}
	require.Equal(t, raised, total)
	if before == nil || before.doubt {
		return
	}
	k, err := snapshot.DecodeKept(res.Info.Kept)
	require.NoError(t, err)
	require.Equal(t, before.out, k[outAlarm].Life.Out, "as it was confirmed before the kill")
}
