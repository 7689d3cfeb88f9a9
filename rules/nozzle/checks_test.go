package nozzle_test

import (
	"testing"

	"headroom/rules/check/checktest"
	"headroom/rules/nozzle"
)

func TestChecks(t *testing.T) { checktest.Run(t, nozzle.Checks()) }
