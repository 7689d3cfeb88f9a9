package hardware

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/config"
	"headroom/deploy/testneed"
)

// TestAnyConfigIsBuiltOrRefused: whatever lines of the example are lost, moved
// or spoilt, the config or the drivers say so in words; nothing panics, and
// what is accepted feeds exactly the channels that count as fitted.
func TestAnyConfigIsBuiltOrRefused(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(testneed.Root(t), "testdata", "config", "good", "sensors-trailer.toml"))
	require.NoError(t, err)
	whole := strings.Split(string(data), "\n")
	rapid.Check(t, func(t *rapid.T) {
		lines := append([]string(nil), whole...)
		for range rapid.IntRange(1, 4).Draw(t, "changes") {
			i := rapid.IntRange(0, len(lines)-1).Draw(t, "line")
			switch rapid.IntRange(0, 3).Draw(t, "kind") {
			case 0:
				lines[i] = ""
			case 1:
				lines[i] = "#" + lines[i]
			case 2:
				k := rapid.IntRange(0, len(lines)-1).Draw(t, "other")
				lines[i], lines[k] = lines[k], lines[i]
			case 3:
				key, _, _ := strings.Cut(lines[i], "=")
				lines[i] = key + "= " + rapid.SampledFrom([]string{"0", "-1", "\"\"", "true", "\"0 V\"", "\"1e300 psi\"", "[]", "\"AIN0\"", "1.5", "\"0.001 ohm\"", "\"50 kPa\""}).Draw(t, "value")
			}
		}
		cfg, problems := config.Parse("x", []byte(strings.Join(lines, "\n")))
		if len(config.Mistakes(problems)) > 0 {
			return
		}
		if err := Check(cfg); err != nil {
			if !strings.HasPrefix(err.Error(), "[") {
				t.Fatalf("refused without its place: %v", err)
			}
			return
		}
		set, err := Env{}.Build(cfg, nil)
		if err != nil {
			t.Fatal(err)
		}
		fed := map[string]bool{}
		for _, d := range set.Drivers {
			for _, ch := range d.Channels() {
				if fed[ch.String()] {
					t.Fatalf("%s is fed twice", ch)
				}
				fed[ch.String()] = true
				if !cfg.Engine.Signals[ch].Fitted {
					t.Fatalf("%s is fed and not fitted", ch)
				}
			}
		}
	})
}
