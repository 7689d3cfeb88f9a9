package notify

import (
	"bytes"
	"encoding/json"
	"fmt"
	"log/slog"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
)

func TestBadOptionsNameTheMend(t *testing.T) {
	for _, c := range []struct {
		name string
		edit func(o *Options)
		want string
	}{
		{"no machine", func(o *Options) { o.Machine = "" }, "give it one"},
		{"no target", func(o *Options) { o.Targets = nil }, "add one or leave notifications out"},
		{"dashboard", func(o *Options) { o.Dashboard = "jetter.local" }, "write it like http://"},
		{"dashboard with a password", func(o *Options) { o.Dashboard = "http://u:p@h/" }, "without user and password"},
		{"drain", func(o *Options) { o.Drain = time.Hour }, "drain is 1h0m0s: give a time from 0s to 1m0s"},
		{"twice", func(o *Options) { o.Targets = append(o.Targets, o.Targets[0]) }, `two targets have the name "a": give each its own`},
		{"name", func(o *Options) { o.Targets[0].Name = "A b" }, "take 1 to 32 of a-z, 0-9 and _"},
		{"no sink", func(o *Options) { o.Targets[0].Sink = nil }, "make one with"},
		{"level", func(o *Options) { o.Targets[0].MinLevel = engine.Act + 1 }, "use advice, warning or act"},
		{"timeout", func(o *Options) { o.Targets[0].Timeout = -1 }, "timeout is -1ns: give a time from 100ms to 2m0s"},
		{"retries", func(o *Options) { o.Targets[0].RetryMin, o.Targets[0].RetryMax = time.Minute, time.Second }, "swap them"},
	} {
		o := options(Target{Name: "a", Sink: &fakeSink{}})
		c.edit(&o)
		_, err := New(newScript(), o)
		require.ErrorContains(t, err, c.want, c.name)
	}
}

func TestBadAddressesNameTheMendAndHideSecrets(t *testing.T) {
	for _, c := range []struct{ name, url, want string }{
		{"not a URL", "https://h/%zz-hunter2", "it is no URL"},
		{"scheme", "ftp://h/hunter2", "it must begin with http:// or https://"},
		{"no host", "http:///hunter2", "it must begin with http:// or https:// and a host"},
		{"user", "https://u:hunter2@h/", "take user and password out of it"},
		{"fragment", "https://h/#hunter2", "take out what follows the #"},
	} {
		_, err := NewWebhook(WebhookOptions{HTTP: HTTP{URL: c.url}})
		require.ErrorContains(t, err, c.want, c.name)
		require.NotContains(t, err.Error(), "hunter2", c.name)
	}
	_, err := NewWebhook(WebhookOptions{HTTP: HTTP{URL: "http://h/", Token: "a1", User: "u"}})
	require.ErrorContains(t, err, "give one of them")
}

func TestBadAlertmanagerOptions(t *testing.T) {
	for _, c := range []struct {
		name string
		opt  AlertmanagerOptions
		want string
	}{
		{"repeat", AlertmanagerOptions{Repeat: time.Second}, "repeat is 1s: give a time from 5s to 1h0m0s"},
		{"hold", AlertmanagerOptions{Repeat: time.Minute, Hold: time.Minute}, "hold is 1m0s: give a time from 2m30s to 24h0m0s"},
		{"label", AlertmanagerOptions{Labels: map[string]string{"a-b": "c"}}, "letters, digits and _"},
		{"ours", AlertmanagerOptions{Labels: map[string]string{"channel": "c"}}, "take another name"},
	} {
		c.opt.URL = "http://h:9093"
		_, err := NewAlertmanager(c.opt)
		require.ErrorContains(t, err, c.want, c.name)
	}
}

func TestBadMQTTOptions(t *testing.T) {
	good := MQTTOptions{Broker: "mqtt://broker.example", Topic: "headroom/jetter-1"}
	m, err := NewMQTT(good)
	require.NoError(t, err)
	require.Equal(t, "broker.example:1883", m.addr)
	require.Regexp(t, "^[0-9a-zA-Z]{1,23}$", m.opt.ClientID, "MQTT 3.1.1, 3.1.3.1: what every broker must take")
	for _, c := range []struct {
		name string
		edit func(o *MQTTOptions)
		want string
	}{
		{"scheme", func(o *MQTTOptions) { o.Broker = "tcp://h" }, "it must begin with mqtt:// or mqtts://"},
		{"path", func(o *MQTTOptions) { o.Broker = "mqtt://h/x" }, "with nothing behind the port"},
		{"user", func(o *MQTTOptions) { o.Broker = "mqtt://u:p@h" }, "take user and password out of it"},
		{"no topic", func(o *MQTTOptions) { o.Topic = "" }, "for example headroom/jetter-1"},
		{"wildcard", func(o *MQTTOptions) { o.Topic = "a/#" }, "take out +, #"},
		{"slash", func(o *MQTTOptions) { o.Topic = "a/" }, "no / at its ends"},
		{"keep alive", func(o *MQTTOptions) { o.KeepAlive = time.Second }, "give a time from 5s to 10m0s"},
		{"password", func(o *MQTTOptions) { o.Password = "x" }, "give the user too"},
	} {
		o := good
		c.edit(&o)
		_, err := NewMQTT(o)
		require.ErrorContains(t, err, c.want, c.name)
	}
	require.Equal(t, "headroom/jetter--1", DefaultTopic("Jetter #1"))
	require.Equal(t, "headroom/machine", DefaultTopic("+/#"))
}

func TestSecretNeverShows(t *testing.T) {
	opt := WebhookOptions{Secret: "hunter2", HTTP: HTTP{Token: "hunter2"}}
	var log bytes.Buffer
	slog.New(slog.NewJSONHandler(&log, nil)).Info("x", "secret", opt.Secret, "options", opt.HTTP.Token)
	asJSON, err := json.Marshal(map[string]any{"secret": opt.Secret})
	require.NoError(t, err)
	all := log.String() + string(asJSON) + fmt.Sprintf("%v %+v %#v %s %q", opt, opt, opt, opt.Secret, opt.Secret)
	require.NotContains(t, all, "hunter2")
	require.Contains(t, all, placeholder)
	require.Empty(t, Secret("").String())
}
