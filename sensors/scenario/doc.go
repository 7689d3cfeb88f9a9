// Package scenario reads the small files that tell a job: what people do to
// the machine and when, what goes wrong, and which alarms must come of it. It
// owns the format, the names of steps and faults and their effect on the
// plant's inputs. It refuses to step the plant, to make noise and to judge:
// that an expected alarm came is found by whoever runs the scenario.
//
// A file is TOML with lines of plain words in it:
//
//	title = "A kinked supply hose"
//	invented = true
//	seed = 7
//	end = "3:00"
//	timeline = [
//	  "0:05 tap on",
//	  "0:10 trigger open",
//	  "0:15 switch on",
//	  "1:00 fault kinked_hose 98.5 % over 20 s until 2:00",
//	]
//	expect = [
//	  "inlet_low.act between 1:10 and 1:25 cleared by 2:10",
//	  "npsh_margin.act under inlet_low.act between 1:10 and 1:25",
//	  "flow_short.warn maybe",
//	]
//	[machine]
//	supply_hose_bore = "5/8 in"
//	[config.supply_hose]
//	bore = "0.625 in"
//
// Points in time are m:ss since the start, everything else carries its unit.
// An alarm that isn't listed must not come. [machine] is the truth, [config]
// what the daemon is told of it; the two may disagree, as in life.
package scenario
