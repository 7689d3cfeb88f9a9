package engine

import "headroom/rules/frame"

// OnlyShown reports a channel that is measured, shown and recorded, and whose
// value no rule judges by itself. The departure rule compares it with the
// machine's own normal where the config asks for that, and its sensor's alarm
// is raised as any other's. Whoever shows such a channel must say so, or it
// looks watched.
func OnlyShown(c frame.Channel) bool { return c == frame.Vibration2 || c == frame.MotorTemp }
