package supply_test

import (
	"testing"

	"headroom/rules/check/checktest"
	"headroom/rules/supply"
)

func TestChecks(t *testing.T) { checktest.Run(t, supply.Checks()) }
