package config

import (
	"flag"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// update rewrites the golden files and the default file from the schema:
// go test ./daemon/config -update, twice where the default file changes, as it
// is built in.
var update = flag.Bool("update", false, "rewrite default.toml and the golden files")

func TestDefaultFileIsTheSchemas(t *testing.T) {
	want := writeDefault()
	if *update {
		require.NoError(t, os.WriteFile("default.toml", []byte(want), 0o644))
		return
	}
	require.Equal(t, want, string(defaultTOML), "default.toml is old: run go test ./daemon/config -update")
}
