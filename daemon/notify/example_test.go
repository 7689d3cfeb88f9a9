package notify_test

import (
	"context"
	"fmt"

	"headroom/daemon/notify"
	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/units"
)

// One machine that tells an Alertmanager everything and wakes people by a
// webhook only when they must act.
func Example() {
	all, err := notify.NewAlertmanager(notify.AlertmanagerOptions{HTTP: notify.HTTP{URL: "http://alerts.example:9093"}})
	if err != nil {
		fmt.Println(err)
		return
	}
	wake, err := notify.NewWebhook(notify.WebhookOptions{HTTP: notify.HTTP{URL: "https://pager.example/hook"}, Secret: "change me"})
	if err != nil {
		fmt.Println(err)
		return
	}
	n, err := notify.New(snapshot.NewStore(), notify.Options{
		Machine: "Jetter 1", Units: units.US,
		Targets: []notify.Target{
			{Name: "office", MinLevel: engine.Advice, Sink: all},
			{Name: "phone", MinLevel: engine.Act, Sink: wake},
		},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel() // a daemon would work here
	n.Run(ctx)
	for _, t := range n.Stats().Targets {
		fmt.Println(t.Name, t.Kind, t.Sent)
	}
	// Output:
	// office alertmanager 0
	// phone webhook 0
}
