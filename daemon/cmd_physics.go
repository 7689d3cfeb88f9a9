package main

import (
	"context"

	"headroom/rules/physics"
)

// cmdPhysics is the page of what is computed and what it was compared with.
func cmdPhysics(ctx context.Context, args []string, io stdio) error {
	page := func(string) (string, error) { return physics.Document(), nil }
	return generated{command: "physics", what: "physics page", page: page}.run(ctx, args, io)
}
