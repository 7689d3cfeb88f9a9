package app

import (
	"headroom/daemon/hardware"
	"headroom/dashboard"
)

// trier are outputs that a person may try; *hardware.Outputs are.
type trier interface {
	TestOutputs() []hardware.Output
	HoldOutput(name, press string) (began bool, err error)
	ReleaseOutput(name, press string)
	ResetStop() error
}

// trial puts outputs in the words of the dashboard. It implements
// dashboard.OutputTester.
type trial struct{ trier }

// TestOutputs lists the outputs that are configured.
func (t trial) TestOutputs() (out []dashboard.OutputState) {
	for _, o := range t.trier.TestOutputs() {
		level := "not energised"
		if o.Energised {
			level = "energised"
		}
		out = append(out, dashboard.OutputState{
			Name: o.Name, Label: o.Label, Commanded: level, Held: o.Held, Does: o.Does, CanReset: o.CanReset, Waiting: o.Waiting,
		})
	}
	return out
}
