package review

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/units"
)

// TestEveryScriptIsToldTruly: of the library's scripts each figure of the
// account is what the frames give, and no sentence is empty. The short form takes
// every fifth script.
func TestEveryScriptIsToldTruly(t *testing.T) {
	files, err := filepath.Glob("../../testdata/scenarios/*.toml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	every := 5
	if os.Getenv("HEADROOM_LONG") != "" {
		every = 1
	}
	for i := 0; i < len(files); i += every {
		name := strings.TrimSuffix(filepath.Base(files[i]), ".toml")
		t.Run(name, func(t *testing.T) {
			r := read(t, play(t, script{Scenario: name}))
			a, err := Tell(ctx, r, RunID{Boot: 1}, Options{})
			require.NoError(t, err)
			requireTrue(t, r, a)
			runs, err := r.ListRuns(ctx, 0)
			require.NoError(t, err)
			for k := range runs {
				one, err := Tell(ctx, r, runs[k].ID, Options{})
				require.NoError(t, err)
				requireTrue(t, r, one)
				for j := range one.Sentences {
					require.NotContains(t, one.Sentences[j].Text(units.SI), "--", "every amount is a number")
				}
			}
		})
	}
}
