package words

import "headroom/rules/frame"

// outside says for each reading out of which range it lies where a rule's
// physics doesn't hold for it. The ranges are those of the packages below
// rules/ that own the physics.
var outside = [frame.NumChannels]string{
	frame.InletPressure:  "inlet pressure is outside full vacuum to what a pump's inlet can have: check the gauge and the altitude",
	frame.WaterTemp:      "water temperature is outside liquid water, from 0 °C (32 °F) on: check the thermometer, and the pump for ice",
	frame.Flow:           "flow is outside what this pump can give at its speed: check the meter, the speed and machine.displacement",
	frame.MotorCurrent:   "motor current is outside what breaker, motor or cord can be counted with, up to hundreds of times the rating: check the sensor's scale",
	frame.OutletPressure: "outlet pressure is outside the nozzle's law or the points of the wear baseline: check the gauge, and take a baseline at this pressure",
	frame.ShaftSpeed:     "shaft speed is 0 or above the fastest of the pump's own points: check the pick-up and machine.npsh_required",
	frame.AirPressure:    "air pressure isn't known at this altitude: check machine.altitude",
}

// Outside says which reading keeps a rule from judging because the physics
// doesn't hold for it, out of which range it lies, and what to check. Where no
// single reading is to blame it says that.
func Outside(blame frame.Channel) string {
	if blame < frame.NumChannels && outside[blame] != "" {
		return outside[blame]
	}
	return "the readings together are outside what the physics holds for: check the sensors and the machine's figures"
}
