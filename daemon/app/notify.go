package app

import (
	"context"
	"fmt"
	"os"
	"strings"

	"headroom/daemon/config"
	"headroom/daemon/notify"
	"headroom/daemon/snapshot"
	"headroom/rules/engine"
)

// newNotifier makes the notifier of the config's targets; nil when there are
// none. Simulated alarms at another speed than life's are nobody's business.
func (a *App) newNotifier() (*notify.Notifier, error) {
	targets, err := targets(&a.opt.Config.Notify, a.opt.Config.Name)
	if err != nil || len(targets) == 0 || a.opt.Speed != 1 {
		return nil, err
	}
	return notify.New(a.store, notify.Options{
		Machine: a.opt.Config.Name, Units: a.opt.Config.Units, Dashboard: a.URL(), Log: a.log, Targets: targets,
	})
}

func targets(c *config.Notify, machine string) ([]notify.Target, error) {
	var out []notify.Target
	for _, t := range []struct {
		name string
		cfg  *config.Teller
		make func(t *config.Teller, password, key notify.Secret) (notify.Sink, error)
	}{
		{"alertmanager", &c.Alertmanager, alertmanager},
		{"webhook", &c.Webhook, webhook},
		{"mqtt", &c.MQTT, func(t *config.Teller, password, _ notify.Secret) (notify.Sink, error) {
			return mqtt(t, password, machine)
		}},
	} {
		if t.cfg.URL == "" {
			continue
		}
		password, err := secret(t.cfg.PasswordFile)
		if err != nil {
			return nil, fmt.Errorf("notify.%s.password_file: %w", t.name, err)
		}
		key, err := secret(t.cfg.SecretFile)
		if err != nil {
			return nil, fmt.Errorf("notify.%s: %w", t.name, err)
		}
		sink, err := t.make(t.cfg, password, key)
		if err != nil {
			return nil, fmt.Errorf("notify.%s: %w", t.name, err)
		}
		out = append(out, notify.Target{Name: t.name, MinLevel: minLevel(t.cfg.MinLevel), Sink: sink})
	}
	return out, nil
}

func alertmanager(t *config.Teller, password, token notify.Secret) (notify.Sink, error) {
	return notify.NewAlertmanager(notify.AlertmanagerOptions{HTTP: notify.HTTP{URL: t.URL, User: t.User, Password: password, Token: token}})
}

func webhook(t *config.Teller, password, key notify.Secret) (notify.Sink, error) {
	return notify.NewWebhook(notify.WebhookOptions{HTTP: notify.HTTP{URL: t.URL, User: t.User, Password: password}, Secret: key})
}

func mqtt(t *config.Teller, password notify.Secret, machine string) (notify.Sink, error) {
	topic := t.Topic
	if topic == "" {
		topic = notify.DefaultTopic(machine)
	}
	return notify.NewMQTT(notify.MQTTOptions{Broker: t.URL, Topic: topic, User: t.User, Password: password})
}

// secret reads a file that holds one secret and perhaps a line end.
func secret(path string) (notify.Secret, error) {
	if path == "" {
		return "", nil
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return "", fmt.Errorf("cannot read the secret: %w", err)
	}
	return notify.Secret(strings.TrimRight(string(text), "\r\n")), nil
}

func minLevel(name string) engine.Level {
	switch name {
	case "advice":
		return engine.Advice
	case "act":
		return engine.Act
	}
	return engine.Warning
}

// notified is how the targets are doing, for metrics.
func (a *App) notified() []snapshot.Notified {
	if a.notifier == nil {
		return nil
	}
	var out []snapshot.Notified
	for _, t := range a.notifier.Stats().Targets {
		out = append(out, snapshot.Notified{
			Name: t.Name, Sent: t.Sent, Failures: t.Failures, Dropped: t.Coalesced + t.Refused + t.Unsent,
			Waiting: t.Waiting, Failing: t.Failing,
		})
	}
	return out
}

// tellOthers sends notifications until ctx ends and what waits is sent.
func (a *App) tellOthers(ctx context.Context) {
	if a.notifier != nil {
		a.notifier.Run(ctx)
	}
}
