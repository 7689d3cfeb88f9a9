package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// source is the checkout with what names a build of it.
type source struct {
	root string
	// version is a Debian version without a revision; date is the last
	// change's, in UTC.
	version string
	date    time.Time
}

// epochVariable is the convention of reproducible-builds.org for the date.
const epochVariable = "SOURCE_DATE_EPOCH"

// good is what a version may be made of: Debian policy 5.6.12, without epoch
// and revision.
var good = regexp.MustCompile(`^[0-9][A-Za-z0-9.+~]*$`)

// findSource takes version and date from git, unless they are given.
func findSource(ctx context.Context, root, version string) (*source, error) {
	s := &source{root: root, version: version}
	var err error
	if s.date, err = date(ctx, root); err != nil {
		return nil, err
	}
	if version == "" {
		if s.version, err = describe(ctx, root, s.date); err != nil {
			return nil, fmt.Errorf("cannot tell the version: %w; give it with -version", err)
		}
	}
	if !good.MatchString(s.version) {
		return nil, fmt.Errorf("%q is no version: it begins with a digit and has letters, digits and . + ~ only", s.version)
	}
	return s, nil
}

func date(ctx context.Context, root string) (time.Time, error) {
	text := os.Getenv(epochVariable)
	if text == "" {
		var err error
		if text, err = git(ctx, root, "log", "-1", "--format=%ct"); err != nil {
			return time.Time{}, fmt.Errorf("cannot tell the date of the last change: %w; give it in %s", err, epochVariable)
		}
	}
	s, err := strconv.ParseInt(text, 10, 64)
	if err != nil || s < 0 {
		return time.Time{}, fmt.Errorf("%s=%q is no number of seconds since 1970", epochVariable, text)
	}
	return time.Unix(s, 0).UTC(), nil
}

// describe is the version of a tag v1.2.3, or of the last one with the commit's
// date behind it, so that later commits sort as newer.
func describe(ctx context.Context, root string, at time.Time) (string, error) {
	dirty, err := git(ctx, root, "status", "--porcelain", "--untracked-files=no")
	if err != nil {
		return "", err
	}
	suffix := ""
	if dirty != "" {
		suffix = "+changed"
	}
	const tags = "v[0-9]*"
	if tag, err := git(ctx, root, "describe", "--tags", "--exact-match", "--match", tags); err == nil {
		return strings.TrimPrefix(tag, "v") + suffix, nil
	}
	base := "v0.0"
	if tag, err := git(ctx, root, "describe", "--tags", "--abbrev=0", "--match", tags); err == nil {
		base = tag
	}
	commit, err := git(ctx, root, "rev-parse", "--short=12", "HEAD")
	if err != nil {
		return "", err
	}
	return strings.TrimPrefix(base, "v") + "+" + at.Format("20060102150405") + ".g" + commit + suffix, nil
}

func git(ctx context.Context, root string, args ...string) (string, error) {
	cmd := exec.CommandContext(ctx, "git", append([]string{"-C", root}, args...)...)
	out, err := cmd.Output()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		err = fmt.Errorf("git %s: %s", args[0], strings.TrimSpace(string(exit.Stderr)))
	}
	return strings.TrimSpace(string(out)), err
}
