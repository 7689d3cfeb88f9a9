package scenario

import (
	"embed"
	"fmt"
)

//go:embed demo.toml
var demo embed.FS

// Demo returns the invented job that the program shows without any hardware.
func Demo() (*Scenario, error) {
	s, err := Load(demo, "demo.toml")
	if err != nil {
		return nil, fmt.Errorf("cannot read the demo that is built in: %w", err)
	}
	return s, nil
}
