package webtest

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
)

// Module returns the path of a file of the pinned npm packages below
// dashboard/checks, which its script "install" puts there.
func Module(t testing.TB, elem ...string) string {
	t.Helper()
	p := filepath.Join(append([]string{testneed.Root(t), "dashboard", "checks", "node_modules"}, elem...)...)
	if _, err := os.Stat(p); err != nil {
		testneed.Missing(t, "needs the packages of dashboard/checks: run dashboard/checks/install, which needs npm")
	}
	return p
}

// Axe checks the page by the rules of axe-core, all of them: those for WCAG up
// to AA, its best practices, and contrast for AAA besides.
func (b *Browser) Axe(t testing.TB) {
	t.Helper()
	source, err := os.ReadFile(Module(t, "axe-core", "axe.min.js"))
	require.NoError(t, err)
	b.Do(t, chromedp.Evaluate[chromedp.Void](string(source)+"; void 0"))
	found := Ask[[]string](t, b, `axe.run(document, {resultTypes: ["violations"], rules: {"color-contrast-enhanced": {enabled: true}}})
		.then(r => r.violations.flatMap(v => v.nodes.map(n => v.impact + " " + v.id + ": " + n.target.join(" ") + " " + (n.any[0]?.message ?? v.help))))`)
	require.Empty(t, found, "axe-core")
}
