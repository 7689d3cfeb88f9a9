package app_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

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
// page says so, and the run is there to be looked at. With
// HEADROOM_SCREENSHOTS=FOLDER the README's pictures are made on the way.
func TestDemoInABrowser(t *testing.T) {
	ctx := tab(t)
	s := serve(t, demoDriver(t), 12)
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(390, 844), chromedp.Navigate(s.URL())))
	require.Eventually(t, func() bool {
		snap := s.Store().Latest()
		return snap != nil && snap.Verdicts.Alarms[engine.ActAlarm(engine.InletLow)].Active
	}, 60*time.Second, 20*time.Millisecond, "the demo starves its pump")
	see := func(what string) {
		t.Helper()
		shown := `document.body.innerText.includes("` + what + `")`
		require.NoError(t, chromedp.Do(ctx, chromedp.Poll[chromedp.Void](shown, chromedp.WithPollingTimeout(15*time.Second))))
	}
	see("Pump is starving")
	see("Act now")
	shoot(t, ctx, "live-phone.png", 390, 844)
	shoot(t, ctx, "live-laptop.png", 1280, 900)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.url("/start"))))
	see("Before the start")
	shoot(t, ctx, "start-phone.png", 390, 844)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.url("/runs")), chromedp.WaitVisible("ul.runs a")))
	run, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.querySelector("ul.runs a").pathname`))
	require.NoError(t, err)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.url(run))))
	see("In short")
	see("It began with")
	shoot(t, ctx, "run-laptop.png", 1280, 900)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.url("/setup"))))
	see("Inlet pressure")
	shoot(t, ctx, "setup-phone.png", 390, 844)
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
