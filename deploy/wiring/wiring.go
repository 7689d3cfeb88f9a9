// Package wiring holds the wiring guide with its drawings inside the program,
// so that it can be read where the machine stands. It owns nothing but the
// files beside it; whoever shows them turns their marks into a page. It refuses
// to be more than that: what is wired to a given machine stands in its
// configuration.
package wiring

import "embed"

// Guide holds README.md and the drawings that it names, in one folder.
//
//go:embed README.md *.svg
var Guide embed.FS
