package app_test

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/app"
)

// An alarm reaches a webhook of the config, signed with the key of its file,
// while the server refuses it at first; what was tried is counted.
func TestConfiguredWebhookIsTold(t *testing.T) {
	got := make(chan string, 16)
	refuse := true
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if refuse {
			refuse = false
			http.Error(w, "busy", http.StatusServiceUnavailable)
			return
		}
		body, _ := io.ReadAll(r.Body)
		got <- string(body)
	}))
	defer srv.Close()
	opt := options(t, hot{340})
	key := filepath.Join(t.TempDir(), "key")
	require.NoError(t, os.WriteFile(key, []byte("secret\n"), 0o600))
	opt.Config.Notify.Webhook.URL, opt.Config.Notify.Webhook.MinLevel, opt.Config.Notify.Webhook.SecretFile = srv.URL, "act", key
	a, err := app.New(opt)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- a.Run(ctx) }()
	select {
	case body := <-got:
		require.Contains(t, body, "water_hot.act")
	case <-time.After(30 * time.Second):
		t.Error("nothing came")
	}
	n := a.Store().Latest().Health.Notify
	require.Len(t, n, 1)
	require.Equal(t, "webhook", n[0].Name)
	require.NotZero(t, n[0].Failures)
	cancel()
	require.NoError(t, <-done)
	require.NoError(t, a.Close())
}

func TestUnreadableKeyNamesTheSetting(t *testing.T) {
	opt := options(t, hot{340})
	opt.Config.Notify.Webhook.URL, opt.Config.Notify.Webhook.SecretFile = "http://127.0.0.1:1/", "/does/not/exist"
	_, err := app.New(opt)
	require.ErrorContains(t, err, "notify.webhook")
}
