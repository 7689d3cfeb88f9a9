package app_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/daemon/app"
	"headroom/deploy/testneed"
	"headroom/rules/engine"
)

// tab opens Debian's Chromium without a window; everything it would ask of the
// world is switched off.
func tab(t *testing.T) context.Context {
	opts := []chromedp.ExecAllocatorOption{
		chromedp.ExecPath(testneed.Program(t, "chromium", "chromium")), chromedp.NoFirstRun, chromedp.UserDataDir(t.TempDir()),
		chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.Flag("hide-scrollbars", true),
	}
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 90*time.Second)
	t.Cleanup(cancel)
	return ctx
}

// The whole program in a browser: the demo runs until the pump starves, the
// page says so. With
// HEADROOM_SCREENSHOTS=FOLDER the README's pictures are made on the way.
func TestDemoInABrowser(t *testing.T) {
	ctx := tab(t)
	opt := options(t, demoDriver(t))
	opt.Listen, opt.Speed = "127.0.0.1:0", 12
	a, err := app.New(opt)
	require.NoError(t, err)
	run, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- a.Run(run) }()
	defer func() {
		stop()
		require.NoError(t, <-done)
	}()

	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(390, 844), chromedp.Navigate(a.URL())))
	require.Eventually(t, func() bool {
		s := a.Store().Latest()
		return s != nil && s.Verdicts.Alarms[engine.ActAlarm(engine.InletLow)].Active
	}, 60*time.Second, 20*time.Millisecond, "the demo starves its pump")
	shown := `document.body.innerText.includes("Pump is starving")`
	require.NoError(t, chromedp.Do(ctx, chromedp.Poll[chromedp.Void](shown, chromedp.WithPollingTimeout(15*time.Second))))
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.body.innerText`))
	require.NoError(t, err)
	require.Contains(t, text, "Act now")
	shoot(t, ctx, "live-phone.png", 390, 844)
	shoot(t, ctx, "live-laptop.png", 1280, 900)
}

func shoot(t *testing.T, ctx context.Context, name string, width, height int64) {
	folder := os.Getenv("HEADROOM_SCREENSHOTS")
	if folder == "" {
		return
	}
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, height)))
	png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(folder, name), png, 0o644))
}
