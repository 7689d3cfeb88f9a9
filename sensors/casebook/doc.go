// Package casebook proves the alarms: it plays every scenario of
// testdata/scenarios through board and engine, holds what came against what
// the file expects and against an oracle of its own, and keeps the table of
// all cases in testdata/casebook/CASES.md.
//
// It owns the oracle, which knows the plant's true values and works every
// rule's quantity out anew in plain arithmetic; the days of benign work, which
// must raise nothing; and the check that each limit and each delay, moved by
// 30 percent, makes a case fail. It refuses to hold any code of its own beside
// its tests: nothing here runs in the daemon.
//
// The table is written anew with
//
//	go test ./sensors/casebook -run TestTable -update
//
// and the long form of the benign days, 200 instead of 12, runs with
//
//	HEADROOM_LONG=1 go test ./sensors/casebook -run TestDays -v -timeout 30m
package casebook
