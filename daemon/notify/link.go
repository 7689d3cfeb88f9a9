package notify

import (
	"context"
	"crypto/tls"
	"errors"
	"net"
	"net/url"
	"sync"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// link is one connection to a broker. The library's own reconnecting, queueing
// and resending is switched off: the worker does these in one way for all
// targets.
type link struct {
	client paho.Client
	lost   chan struct{}
	lose   func() // closes lost, once

	mu   sync.Mutex
	conn net.Conn
}

// post is one message to publish, retained and with quality of service 1.
type post struct {
	topic string
	body  []byte
}

// atLeastOnce is quality of service 1.
const atLeastOnce = 1

// protocol is MQTT 3.1.1, which every broker in the field speaks.
const protocol = 4

// goodbye is how long the last packet may take, in milliseconds.
const goodbye = 250

// connect dials the broker and shakes hands until ctx ends.
func (m *MQTT) connect(ctx context.Context) (*link, error) {
	l := &link{lost: make(chan struct{})}
	l.lose = sync.OnceFunc(func() { close(l.lost) })
	l.client = paho.NewClient(m.clientOptions(ctx, l))
	t := l.client.Connect()
	select {
	case <-t.Done():
	case <-ctx.Done():
		l.cut()
		return nil, context.Cause(ctx)
	}
	if err := t.Error(); err != nil {
		l.cut()
		return nil, err
	}
	return l, nil
}

func (m *MQTT) clientOptions(ctx context.Context, l *link) *paho.ClientOptions {
	limit := maxTimeout
	if until, ok := ctx.Deadline(); ok {
		limit = max(time.Until(until), time.Millisecond)
	}
	return paho.NewClientOptions().
		AddBroker("tcp://"+m.addr). // only a name: the dialling is ours
		SetCustomOpenConnectionFn(func(*url.URL, paho.ClientOptions) (net.Conn, error) { return m.dial(ctx, l) }).
		SetProtocolVersion(protocol).SetCleanSession(true).
		SetClientID(m.opt.ClientID).SetUsername(m.opt.User).SetPassword(string(m.opt.Password)).
		SetAutoReconnect(false).SetConnectRetry(false).SetOrderMatters(false).
		SetConnectTimeout(limit).SetWriteTimeout(limit).
		SetKeepAlive(m.opt.KeepAlive).SetPingTimeout(min(DefaultTimeout, m.opt.KeepAlive)).
		SetBinaryWill(m.statusTopic(), []byte(offline), atLeastOnce, true).
		SetConnectionLostHandler(func(paho.Client, error) { l.lose() })
}

// dial opens the network connection and keeps hold of it, to be able to cut it.
func (m *MQTT) dial(ctx context.Context, l *link) (net.Conn, error) {
	dial := m.opt.Dial
	if dial == nil {
		dial = new(net.Dialer).DialContext
	}
	conn, err := dial(ctx, "tcp", m.addr)
	if err != nil {
		return nil, err
	}
	if m.tls {
		if conn, err = handshake(ctx, conn, m.opt.TLS, m.addr); err != nil {
			return nil, err
		}
	}
	conn = newBounded(conn)
	l.mu.Lock()
	defer l.mu.Unlock()
	l.conn = conn
	if ctx.Err() != nil {
		return nil, errors.Join(ctx.Err(), conn.Close())
	}
	return conn, nil
}

func handshake(ctx context.Context, conn net.Conn, cfg *tls.Config, addr string) (net.Conn, error) {
	if cfg == nil {
		cfg = &tls.Config{MinVersion: tls.VersionTLS12}
	}
	if cfg.ServerName == "" {
		cfg = cfg.Clone()
		cfg.ServerName, _, _ = net.SplitHostPort(addr) // addr was made by JoinHostPort
	}
	secure := tls.Client(conn, cfg)
	if err := secure.HandshakeContext(ctx); err != nil {
		return nil, errors.Join(err, conn.Close())
	}
	return secure, nil
}

// publish sends messages and waits for the receipts of all of them. It comes
// back when ctx ends, even if the library still waits for the network; that
// ends at the latest with its own write limit.
func (l *link) publish(ctx context.Context, posts ...post) error {
	sent := make(chan error, 1)
	go func() { sent <- l.publishAll(ctx, posts) }()
	select {
	case err := <-sent:
		return err
	case <-ctx.Done():
		return errNoReceipt
	}
}

var (
	errNoReceipt = errors.New("no receipt in time")
	errLost      = errors.New("the connection was lost")
)

func (l *link) publishAll(ctx context.Context, posts []post) error {
	tokens := make([]paho.Token, len(posts))
	for i, p := range posts {
		if ctx.Err() != nil {
			return errNoReceipt
		}
		tokens[i] = l.client.Publish(p.topic, atLeastOnce, true, p.body)
	}
	for _, t := range tokens {
		select {
		case <-t.Done():
			if err := t.Error(); err != nil {
				return err
			}
		case <-l.lost:
			return errLost
		case <-ctx.Done():
			return errNoReceipt
		}
	}
	return nil
}

// cut ends the connection without a word, so that the broker publishes the
// will.
func (l *link) cut() {
	l.mu.Lock()
	if l.conn != nil {
		_ = l.conn.Close() // it is broken or unwanted; there is nothing to save
	}
	l.mu.Unlock()
	l.client.Disconnect(0)
	l.lose()
}

// end says goodbye, so that the broker drops the will.
func (l *link) end() {
	l.client.Disconnect(goodbye)
	l.lose()
}
