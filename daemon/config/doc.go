// Package config turns one commented TOML file into everything the daemon
// needs to know about a machine, in SI. It owns the schema (every key with its
// kind, range, default and meaning), the commented default file, and the check
// that reports every mistake of a file at once with its line and column. It
// refuses to guess: a number without its unit, an unknown key or two settings
// that contradict each other are mistakes with a mend, never a silent default.
// It opens no port, no bus and no file but the one it is told to load.
package config
