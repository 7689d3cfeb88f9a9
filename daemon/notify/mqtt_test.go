package notify

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"log/slog"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
)

const topic = "headroom/jetter-1"

// atBroker runs a notifier with one MQTT target against a broker in memory.
func atBroker(t *testing.T, b *broker, edit func(*Options)) (net *memNet, src *script, n *Notifier, stop func()) {
	t.Helper()
	net = newMemNet()
	go b.serve(net)
	t.Cleanup(func() {
		net.setCut(true)
		_ = net.Close()
	})
	m, err := NewMQTT(MQTTOptions{Broker: "mqtt://broker.example", Topic: topic, User: "jetter", Password: "hunter2", Dial: net.Dial})
	require.NoError(t, err)
	src = newScript()
	opt := options(Target{Name: "mqtt", Sink: m})
	if edit != nil {
		edit(&opt)
	}
	n, end := launch(t, src, opt)
	return net, src, n, func() {
		end()
		time.Sleep(time.Minute) // for the library's goroutines to end
		require.Empty(t, b.odd)
	}
}

func stateOf(t *testing.T, b *broker, a engine.AlarmID) string {
	t.Helper()
	body := b.keeps(topic + "/alarm/" + a.String())
	if body == "" {
		return "nothing"
	}
	var m message
	require.NoError(t, json.Unmarshal([]byte(body), &m))
	require.Equal(t, a.String(), m.Alarm)
	return m.State
}

func TestMQTTBirthStatesAndGoodbye(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBroker()
		_, src, n, stop := atBroker(t, b, nil)
		time.Sleep(time.Second)
		require.Equal(t, "online", b.keeps(topic+"/status"))
		require.Len(t, b.retained, engine.NumAlarms+1, "every alarm has a state from the start")
		require.Equal(t, "not_raised", stateOf(t, b, inletAct))

		src.raise(inletAct, engine.Act)
		time.Sleep(time.Second)
		require.Equal(t, "raised", stateOf(t, b, inletAct))
		src.back(inletAct, engine.Act)
		time.Sleep(time.Hour)
		require.Equal(t, "returned", stateOf(t, b, inletAct))
		stop()
		require.Equal(t, "offline", b.keeps(topic+"/status"))
		require.Len(t, b.connects, 1, "pings kept the connection for an hour")
		c := b.connects[0]
		require.Equal(t, connectPacket{
			version: 4, clean: true, retain: true, qos: 1, keepAlive: 30, hasWill: true, hasUser: true, hasPassw: true,
			client: clientID(topic), topic: topic + "/status", body: "offline", user: "jetter", password: "hunter2",
		}, c)
		require.Equal(t, 1, strings.Count(strings.Join(b.log, "\n"), "=offline"), "the will is dropped after a goodbye")
		s := n.Stats().Targets[0]
		require.Equal(t, [3]uint64{2, 0, 0}, [3]uint64{s.Sent, s.Failures, s.Coalesced})
		require.Equal(t, uint64(engine.NumAlarms), s.Repeated)
	})
}

func TestMQTTComesBackAfterTheNetwork(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBroker()
		net, src, n, stop := atBroker(t, b, nil)
		src.raise(inletAct, engine.Act)
		time.Sleep(time.Second)
		net.setCut(true)
		time.Sleep(time.Second)
		require.Equal(t, "offline", b.keeps(topic+"/status"), "the last will")
		b.edit(func() { clear(b.retained) }) // the broker loses its memory
		time.Sleep(3 * 24 * time.Hour)
		src.raise(hotWarn, engine.Warning)
		require.True(t, n.Stats().Targets[0].Failing)
		net.setCut(false)
		time.Sleep(DefaultRetryMax)
		require.Equal(t, "online", b.keeps(topic+"/status"))
		require.Equal(t, "raised", stateOf(t, b, inletAct))
		require.Equal(t, "raised", stateOf(t, b, hotWarn))
		require.Equal(t, "not_raised", stateOf(t, b, flowLost))
		stop()
		require.Zero(t, n.Stats().Targets[0].Unsent)
	})
}

func TestMQTTBrokerThatMisbehaves(t *testing.T) {
	for _, c := range []struct {
		name  string
		fault func(b *broker)
		heal  func(b *broker)
		want  string
	}{
		{"sends no receipts", func(b *broker) { b.deaf = true }, func(b *broker) { b.deaf = false }, "no receipt in time"},
		{"refuses us", func(b *broker) { b.refuse = 5 }, func(b *broker) { b.refuse = 0 }, "not Authorized"},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := newBroker()
				c.fault(b)
				var log bytes.Buffer
				_, src, n, stop := atBroker(t, b, func(o *Options) { o.Log = slog.New(slog.NewTextHandler(&log, nil)) })
				src.raise(inletAct, engine.Act)
				time.Sleep(10 * time.Minute)
				s := n.Stats().Targets[0]
				require.True(t, s.Failing)
				require.Contains(t, s.LastError, c.want)
				require.Contains(t, s.LastError, "broker.example:1883")
				b.edit(func() { c.heal(b) })
				time.Sleep(DefaultRetryMax + time.Second)
				require.Equal(t, "raised", stateOf(t, b, inletAct))
				require.False(t, n.Stats().Targets[0].Failing)
				stop()
				require.NotContains(t, log.String()+s.LastError, "hunter2")
			})
		})
	}
}

// A connection that is dead without saying so is found by its silence.
func TestMQTTFindsADeadConnection(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBroker()
		_, _, _, stop := atBroker(t, b, nil)
		time.Sleep(time.Second)
		b.edit(func() { b.silent = true })
		time.Sleep(DefaultKeepAlive + 20*time.Second)
		b.edit(func() { b.silent = false })
		time.Sleep(time.Minute)
		require.Greater(t, len(b.connects), 1)
		require.Equal(t, "online", b.keeps(topic+"/status"))
		stop()
	})
}

func TestMQTTEndsInTimeAtABrokerThatHangs(t *testing.T) {
	for name, fault := range map[string]func(b *broker){
		"sends no receipts": func(b *broker) { b.deaf = true },
		"reads nothing":     func(b *broker) { b.stuck = true },
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := newBroker()
				_, src, n, stop := atBroker(t, b, nil)
				time.Sleep(time.Second)
				b.edit(func() { fault(b) })
				src.raise(inletAct, engine.Act)
				src.raise(hotWarn, engine.Warning)
				synctest.Wait()
				src.raise(inletWarn, engine.Warning)
				began := time.Now()
				stop()
				require.Equal(t, DefaultDrain+time.Minute, time.Since(began), "stop itself waits a minute more")
				require.Equal(t, uint64(3), n.Stats().Targets[0].Unsent)
				require.Equal(t, "offline", b.keeps(topic+"/status"), "by the last will")
			})
		})
	}
}

// The library itself waits for a network that takes nothing; Send must not.
func TestMQTTSendEndsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		net, b := newMemNet(), newBroker()
		go b.serve(net)
		t.Cleanup(func() {
			net.setCut(true)
			_ = net.Close()
		})
		m, err := NewMQTT(MQTTOptions{Broker: "mqtt://broker.example", Topic: topic, Dial: net.Dial})
		require.NoError(t, err)
		long, cancel := context.WithTimeout(t.Context(), time.Minute)
		defer cancel()
		require.NoError(t, m.Open(long))
		b.edit(func() { b.stuck = true })
		short, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		began := time.Now()
		require.ErrorContains(t, m.Send(short, make([]Notification, mqttBatch)), "no receipt in time")
		require.Equal(t, time.Second, time.Since(began))
		require.Nil(t, m.Lost(), "the connection is given up")
		time.Sleep(2 * time.Minute) // for the library's goroutines to end
	})
}

func TestMQTTOverTLS(t *testing.T) {
	lender := httptest.NewTLSServer(nil) // lends its certificate for example.com
	defer lender.Close()
	trusted := x509.NewCertPool()
	trusted.AddCert(lender.Certificate())
	for _, c := range []struct {
		name, broker string
		client       *tls.Config
		want         string
	}{
		{"trusted", "mqtts://example.com", &tls.Config{RootCAs: trusted}, ""},
		{"unknown authority", "mqtts://example.com", nil, "unknown authority"},
		{"wrong name", "mqtts://other.example", &tls.Config{RootCAs: trusted}, "valid for example.com"},
	} {
		t.Run(c.name, func(t *testing.T) {
			net, b := newMemNet(), newBroker()
			defer net.Close()
			go b.serve(tls.NewListener(net, &tls.Config{Certificates: lender.TLS.Certificates}))
			m, err := NewMQTT(MQTTOptions{Broker: c.broker, Topic: topic, Dial: net.Dial, TLS: c.client})
			require.NoError(t, err)
			ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
			defer cancel()
			err = m.Open(ctx)
			if c.want != "" {
				require.ErrorContains(t, err, c.want)
				return
			}
			require.NoError(t, err)
			require.Equal(t, "online", b.keeps(topic+"/status"))
			require.NoError(t, m.Close(ctx))
			require.Equal(t, "offline", b.keeps(topic+"/status"))
		})
	}
}
