//go:build rig && linux

// Recorder is what the rig's power cuts hit before they hit the daemon: it
// records an invented job through daemon/store, faster than life, and says
// each thing only after the store has said that it is safe. Run again over what
// a cut left, it opens the record as every start does and compares all that is
// in it, runs included, with what it must once have written, bit for bit. It draws no verdict
// on what may be missing: that belongs to the test, which knows what was said.
//
//	write DIR          record until the power fails
//	check DIR FROM     open, check and compare; boots before FROM by count only
//	look DIR           open and check a record of the daemon's, and tell of it
//
// What write says: "begin BOOT", then "safe BOOT FRAMES EVENTS ACTS" after each
// sync and each act. What check says: "boot BOOT FRAMES EVENTS ACTS", "torn N"
// records of the tail, "wrong ..." for all that is wrong, and "checked" at its
// end.
package main

import (
	"fmt"
	"os"
)

func main() {
	err := fmt.Errorf("none of write DIR, check DIR FROM, look DIR")
	switch {
	case len(os.Args) == 3 && os.Args[1] == "write":
		err = write(os.Args[2])
	case len(os.Args) == 3 && os.Args[1] == "look":
		err = look(os.Args[2])
	case len(os.Args) == 4 && os.Args[1] == "check":
		var from uint64
		if _, err = fmt.Sscan(os.Args[3], &from); err == nil {
			err = check(os.Args[2], from)
		}
	}
	if err != nil {
		fmt.Println("failed", err)
		os.Exit(1)
	}
}
