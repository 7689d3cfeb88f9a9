package notify

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
	"headroom/rules/engine"
)

// Programs as Debian ships them are the judges here: what they take is right.

// soon waits for something that another program does in its own time.
func soon(t *testing.T, what string, f func() bool) {
	t.Helper()
	require.Eventually(t, f, 20*time.Second, 20*time.Millisecond, what)
}

func freePort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	return l.Addr().String()
}

// start runs a program until the returned function or the test ends it, and
// waits for its port.
func start(t *testing.T, addr, program string, args ...string) (stop func()) {
	t.Helper()
	cmd := exec.Command(program, args...)
	out, err := os.CreateTemp(t.TempDir(), "log")
	require.NoError(t, err)
	cmd.Stdout, cmd.Stderr = out, out
	require.NoError(t, cmd.Start())
	stop = sync.OnceFunc(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait() // it was killed, so its error says nothing
		_ = out.Close()
	})
	t.Cleanup(stop)
	up := func() bool {
		c, err := net.DialTimeout("tcp", addr, time.Second)
		if err == nil {
			_ = c.Close()
		}
		return err == nil
	}
	for until := time.Now().Add(20 * time.Second); !up(); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(until) {
			said, _ := os.ReadFile(out.Name())
			t.Fatalf("%s doesn't listen at %s; it said:\n%s", program, addr, said)
		}
	}
	return stop
}

func write(t *testing.T, dir, name, text string) string {
	t.Helper()
	file := filepath.Join(dir, name)
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	return file
}

// pager is whom the Alertmanager tells.
type pager struct {
	mu   sync.Mutex
	said []string
}

func (p *pager) handle(_ http.ResponseWriter, r *http.Request) {
	var m struct {
		Alerts []struct {
			Status string
			Labels map[string]string
		}
	}
	_ = json.NewDecoder(r.Body).Decode(&m)
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, a := range m.Alerts {
		p.said = append(p.said, a.Status+" "+a.Labels["machine"]+" "+a.Labels["alertname"]+" "+a.Labels["severity"])
	}
}

func (p *pager) heard(what string) func() bool {
	return func() bool {
		p.mu.Lock()
		defer p.mu.Unlock()
		for _, s := range p.said {
			if s == what {
				return true
			}
		}
		return false
	}
}

func TestRealAlertmanager(t *testing.T) {
	program := testneed.Program(t, "prometheus-alertmanager", "prometheus-alertmanager", "alertmanager")
	p := &pager{}
	receiver := httptest.NewServer(http.HandlerFunc(p.handle))
	defer receiver.Close()
	dir, addr := t.TempDir(), freePort(t)
	config := write(t, dir, "config.yml", fmt.Sprintf(`
route: {receiver: pager, group_by: [machine, alertname], group_wait: 10ms, group_interval: 100ms, repeat_interval: 1h}
receivers: [{name: pager, webhook_configs: [{url: %q, send_resolved: true}]}]
`, receiver.URL))
	start(t, addr, program, "--config.file="+config, "--storage.path="+dir, "--web.listen-address="+addr, "--cluster.listen-address=")

	a, err := NewAlertmanager(AlertmanagerOptions{HTTP: HTTP{URL: "http://" + addr}, Labels: map[string]string{"site": "yard"}})
	require.NoError(t, err)
	src := newScript()
	n, stop := launch(t, src, options(Target{Name: "am", Sink: a}))
	defer stop()
	src.raise(inletAct, engine.Act)
	src.raise(engine.SensorAlarm(0), engine.Warning)
	soon(t, "the pager hears of the alarm", p.heard("firing Jetter 1 inlet_low.act act"))
	soon(t, "and of the sensor", p.heard("firing Jetter 1 sensor.inlet_pressure warning"))

	kept := standingAt(t, addr)
	require.Len(t, kept, 2)
	k := kept["inlet_low.act"]
	require.Equal(t, "yard", k.Labels["site"])
	require.Equal(t, "4.9 psi (34 kPa)", k.Annotations["value"])
	require.Equal(t, "http://jetter.local:8080/", k.GeneratorURL)
	require.WithinDuration(t, time.Now().Add(DefaultHold), k.EndsAt, 5*time.Second)

	src.back(inletAct, engine.Act)
	soon(t, "the pager hears of the return", p.heard("resolved Jetter 1 inlet_low.act act"))
	require.Len(t, standingAt(t, addr), 1)
	s := n.Stats().Targets[0]
	require.Equal(t, [3]uint64{3, 0, 0}, [3]uint64{s.Sent, s.Failures, s.Refused}, s.LastError)
}

// standingAt asks the Alertmanager what stands, by name.
func standingAt(t *testing.T, addr string) map[string]alert {
	t.Helper()
	resp, err := http.Get("http://" + addr + "/api/v2/alerts?active=true")
	require.NoError(t, err)
	defer resp.Body.Close()
	var all []alert
	require.NoError(t, json.NewDecoder(resp.Body).Decode(&all))
	out := map[string]alert{}
	for _, a := range all {
		out[a.Labels["alertname"]] = a
	}
	return out
}

// listener is somebody's subscription.
type listener struct {
	mu   sync.Mutex
	said map[string]string
}

func (l *listener) is(topic, want string) func() bool {
	return func() bool {
		l.mu.Lock()
		defer l.mu.Unlock()
		var m message
		if json.Unmarshal([]byte(l.said[topic]), &m) == nil && m.State != "" {
			return m.State == want
		}
		return l.said[topic] == want
	}
}

func (l *listener) count() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.said)
}

// listen subscribes like any reader would, who may read and not write.
func listen(t *testing.T, addr string) *listener {
	t.Helper()
	l := &listener{said: map[string]string{}}
	c := paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + addr).
		SetAutoReconnect(false).SetUsername("reader").SetPassword("r"))
	require.True(t, c.Connect().WaitTimeout(10*time.Second))
	tok := c.Subscribe(topic+"/#", 1, func(_ paho.Client, m paho.Message) {
		l.mu.Lock()
		defer l.mu.Unlock()
		l.said[m.Topic()] = string(m.Payload())
	})
	require.True(t, tok.WaitTimeout(10*time.Second))
	require.NoError(t, tok.Error())
	t.Cleanup(func() { c.Disconnect(100) })
	return l
}

func TestRealBroker(t *testing.T) {
	program := testneed.Program(t, "mosquitto", "mosquitto", "/usr/sbin/mosquitto")
	passwd := testneed.Program(t, "mosquitto", "mosquitto_passwd")
	dir, addr := t.TempDir(), freePort(t)
	_, port, err := net.SplitHostPort(addr)
	require.NoError(t, err)
	users := write(t, dir, "users", "jetter:hunter2\nreader:r\n")
	out, err := exec.Command(passwd, "-U", users).CombinedOutput()
	require.NoError(t, err, string(out))
	rights := write(t, dir, "rights", "user jetter\ntopic write "+topic+"/#\nuser reader\ntopic read "+topic+"/#\n")
	config := write(t, dir, "mosquitto.conf", fmt.Sprintf(
		"listener %s 127.0.0.1\nallow_anonymous false\npassword_file %s\nacl_file %s\npersistence false\nuser root\n", port, users, rights))
	kill := start(t, addr, program, "-c", config)

	var conn net.Conn
	m, err := NewMQTT(MQTTOptions{Broker: "mqtt://" + addr, Topic: topic, User: "jetter", Password: "hunter2",
		Dial: func(ctx context.Context, network, addr string) (c net.Conn, err error) {
			conn, err = new(net.Dialer).DialContext(ctx, network, addr)
			return conn, err
		}})
	require.NoError(t, err)
	src := newScript()
	n, stop := launch(t, src, options(Target{Name: "mqtt", Sink: m, RetryMax: time.Second}))
	sent := func(k uint64) func() bool { return func() bool { return n.Stats().Targets[0].Sent == k } }
	src.raise(inletAct, engine.Act)
	soon(t, "the alarm is sent", sent(1))
	reader := listen(t, addr) // comes later, and hears what is retained
	soon(t, "every alarm and the status are retained", func() bool { return reader.count() == engine.NumAlarms+1 })
	require.True(t, reader.is(topic+"/status", "online")())
	require.True(t, reader.is(topic+"/alarm/inlet_low.act", "raised")())
	src.back(inletAct, engine.Act)
	soon(t, "the return", reader.is(topic+"/alarm/inlet_low.act", "returned"))

	src.raise(hotWarn, engine.Warning)
	soon(t, "the next alarm is sent", sent(3))
	kill() // a broker that loses its memory
	start(t, addr, program, "-c", config)
	reader = listen(t, addr)
	soon(t, "all is told again", func() bool { return reader.count() == engine.NumAlarms+1 })
	soon(t, "the alarm", reader.is(topic+"/alarm/water_hot.warn", "raised"))
	soon(t, "the birth", reader.is(topic+"/status", "online"))
	stop()
	soon(t, "the goodbye", reader.is(topic+"/status", "offline"))
	require.Empty(t, n.Stats().Targets[0].LastError)
	require.Error(t, conn.Close(), "the connection was closed")
}
