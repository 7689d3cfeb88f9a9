package notify

import (
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	"net/url"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// MQTTOptions of an MQTT broker. Broker and Topic are required.
type MQTTOptions struct {
	// Broker is its address: mqtt://host:1883, or mqtts://host:8883 for TLS.
	// Without a port the usual one is taken.
	Broker string
	// Topic is what all topics begin with; DefaultTopic makes one from the
	// machine's name. Each machine needs its own.
	Topic string
	// ClientID as the broker knows us; empty makes one from Topic. Two clients
	// with the same one throw each other out.
	ClientID string
	// User and Password; both empty for none. Over mqtt:// they can be read by
	// everybody on the way.
	User     string
	Password Secret
	// KeepAlive is the longest silence, after which the connection is asked for
	// a sign of life, from 5 s to 10 min; 0 is DefaultKeepAlive. A dead network
	// is noticed after it and a timeout, by the broker after one and a half
	// times it.
	KeepAlive time.Duration
	// TLS is for mqtts; nil trusts the system's certificates.
	TLS *tls.Config
	// Dial opens connections; nil is the operating system's way.
	Dial Dial
}

// DefaultKeepAlive is common practice, no source.
const DefaultKeepAlive = 30 * time.Second

// DefaultTopic returns "headroom/" and the machine's name in lower case, with
// "-" for whatever isn't a letter or digit.
func DefaultTopic(machine string) string {
	name := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return '-'
	}, machine)
	if name = strings.Trim(name, "-"); name == "" {
		name = "machine"
	}
	return "headroom/" + name
}

// MQTT publishes alarms to a broker; the package comment describes the topics.
// It subscribes to nothing.
type MQTT struct {
	opt  MQTTOptions
	addr string // host:port
	tls  bool
	link *link // nil before the first connection
}

var _ Session = (*MQTT)(nil)

// mqttBatch is how many messages are under way before their receipts are
// waited for; brokers hold about twenty.
const mqttBatch = 16

// NewMQTT checks the options. Nothing connects yet.
func NewMQTT(opt MQTTOptions) (*MQTT, error) {
	m := &MQTT{opt: opt}
	fill(&m.opt.KeepAlive, DefaultKeepAlive)
	if m.opt.ClientID == "" {
		m.opt.ClientID = clientID(opt.Topic)
	}
	err := errors.Join(
		m.address(opt.Broker),
		checkTopic(opt.Topic),
		within("MQTT", "keep_alive", m.opt.KeepAlive, 5*time.Second, 10*time.Minute),
		m.checkClient(),
	)
	if err != nil {
		return nil, err
	}
	return m, nil
}

// clientID makes one of the 23 letters and digits that every broker must take
// (MQTT 3.1.1, 3.1.3.1), the same for the same topic.
func clientID(topic string) string {
	h := sha256.Sum256([]byte(topic))
	return "headroom" + hex.EncodeToString(h[:7])
}

func (m *MQTT) address(broker string) error {
	u, err := url.Parse(broker)
	if err != nil || u.Hostname() == "" || u.RequestURI() != "/" && u.RequestURI() != "" {
		return errors.New("cannot use the MQTT broker's address: write it like mqtt://broker.example:1883, with nothing behind the port")
	}
	if u.User != nil {
		return errors.New("cannot use the MQTT broker's address: take user and password out of it and give them on their own")
	}
	port := u.Port()
	switch u.Scheme {
	case "mqtt":
		port = orElse(port, "1883")
	case "mqtts":
		m.tls, port = true, orElse(port, "8883")
	default:
		return errors.New("cannot use the MQTT broker's address: it must begin with mqtt:// or mqtts://")
	}
	m.addr = net.JoinHostPort(u.Hostname(), port)
	return nil
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

// checkTopic follows MQTT 3.1.1, 4.7: no wildcard in what is published to, and
// $ is the broker's own. Empty levels are allowed there but are a mistake.
func checkTopic(topic string) error {
	switch {
	case topic == "" || len(topic) > 200 || !utf8.ValidString(topic):
		return errors.New("cannot use the MQTT topic: give 1 to 200 bytes of UTF-8, for example headroom/jetter-1")
	case strings.ContainsAny(topic, "+#\x00"), strings.HasPrefix(topic, "$"):
		return fmt.Errorf("cannot use the MQTT topic %q: take out +, # and a $ at the beginning", topic)
	case strings.Contains("/"+topic+"/", "//"):
		return fmt.Errorf("cannot use the MQTT topic %q: no / at its ends, and no two in a row", topic)
	}
	return nil
}

func (m *MQTT) checkClient() error {
	if len(m.opt.ClientID) > 200 || !utf8.ValidString(m.opt.ClientID) || strings.Contains(m.opt.ClientID, "\x00") {
		return errors.New("cannot use the MQTT client ID: give at most 200 bytes of UTF-8, or leave it out")
	}
	if m.opt.Password != "" && m.opt.User == "" {
		return errors.New("cannot use an MQTT password without a user: MQTT 3.1.1 has no such thing; give the user too")
	}
	return nil
}

// Kind returns "mqtt".
func (m *MQTT) Kind() string { return "mqtt" }

// Traits: no reminders, since the broker keeps the last state of each alarm.
func (m *MQTT) Traits() Traits { return Traits{Batch: mqttBatch} }

// Open connects, leaves "offline" as last will and publishes "online".
func (m *MQTT) Open(ctx context.Context) error {
	m.drop()
	l, err := m.connect(ctx)
	if err != nil {
		return fmt.Errorf("cannot connect to the MQTT broker at %s: %s", m.addr, mask(err.Error(), string(m.opt.Password)))
	}
	m.link = l
	if err := l.publish(ctx, post{m.statusTopic(), []byte(online)}); err != nil {
		m.drop()
		return fmt.Errorf("cannot publish to the MQTT broker at %s: %w; check that it lets us write below %s", m.addr, err, m.opt.Topic)
	}
	return nil
}

// Lost is closed when the connection has ended, nil when there is none.
func (m *MQTT) Lost() <-chan struct{} {
	if m.link == nil {
		return nil
	}
	return m.link.lost
}

// Send publishes a batch and waits for all receipts. After an error the
// connection is given up: what it still holds is unknown.
func (m *MQTT) Send(ctx context.Context, batch []Notification) error {
	if m.link == nil {
		return errors.New("cannot publish: there is no connection to the MQTT broker")
	}
	posts := make([]post, 0, len(batch))
	for i := range batch {
		body, err := batch[i].JSON()
		if err != nil {
			return &Failure{Err: err, Refused: true}
		}
		posts = append(posts, post{m.alarmTopic(&batch[i]), body})
	}
	if err := m.link.publish(ctx, posts...); err != nil {
		m.drop()
		return fmt.Errorf("cannot publish to the MQTT broker at %s: %w", m.addr, err)
	}
	return nil
}

// Close publishes "offline" and disconnects. Where that fails the broker
// publishes the will, which says the same.
func (m *MQTT) Close(ctx context.Context) error {
	if m.link == nil {
		return nil
	}
	l := m.link
	m.link = nil
	if err := l.publish(ctx, post{m.statusTopic(), []byte(offline)}); err != nil {
		l.cut()
		return fmt.Errorf("cannot say offline to the MQTT broker at %s, its last will does: %w", m.addr, err)
	}
	l.end()
	return nil
}

func (m *MQTT) drop() {
	if m.link != nil {
		m.link.cut()
		m.link = nil
	}
}

const (
	online  = "online"
	offline = "offline"
)

func (m *MQTT) statusTopic() string { return m.opt.Topic + "/status" }

func (m *MQTT) alarmTopic(n *Notification) string { return m.opt.Topic + "/alarm/" + n.Alarm.String() }
