package main

import (
	"log/slog"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/checklist"
	"headroom/daemon/config"
)

// A scenario with an engine is run as a machine with an engine, so that the list
// before the start names its exhaust and no cord. Common practice, no source: an
// engine's exhaust kills where the air stands.
func TestScenarioWithAnEngineHasTheEnginesChecklist(t *testing.T) {
	for file, engine := range map[string]bool{"normal_engine": true, "engine_kink": true, "normal_job": false} {
		cfg := config.Default()
		o := runFlags{scenario: "../testdata/scenarios/" + file + ".toml"}
		_, err := o.drivers(cfg, slog.New(slog.DiscardHandler))
		require.NoError(t, err)
		require.Equal(t, engine, cfg.Drive == config.EngineDriven, file)
		list := checklist.NewKeeper(t.TempDir(), cfg.Drive == config.EngineDriven).Default().String()
		if engine {
			require.Contains(t, list, "xhaust", file)
			require.NotContains(t, list, "GFCI", file)
		} else {
			require.Contains(t, list, "GFCI", file)
		}
	}
}
