package main

import (
	"context"
	"fmt"
	"runtime"
	"runtime/debug"
)

// version is set by the release build with -ldflags "-X main.version=...".
var version = ""

// versionString is the release's version, or what the build knows of itself.
func versionString() string {
	if version != "" {
		return version
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "devel"
	}
	revision, modified := "", ""
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			revision = "-" + s.Value[:min(12, len(s.Value))]
		case s.Key == "vcs.modified" && s.Value == "true":
			modified = "-modified"
		}
	}
	return "devel" + revision + modified
}

func cmdVersion(_ context.Context, _ []string, io stdio) error {
	_, err := fmt.Fprintf(io.out, "headroom %s %s %s/%s\n", versionString(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
	return err
}
