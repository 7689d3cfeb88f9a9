// Package peers measures the record beside other stores, on the same series, on
// the same machine and in the same run: the storage engine of Prometheus, as
// the best known one for such series, and rows of SQLite, as what one would do
// first. It also lets an independent implementation of Parquet read what the
// program exports. It holds benchmarks and tests only, in a module of its own,
// so that the project's own list of dependencies stays short; it judges
// nothing, and absolute figures of it are the machine's, not the stores'.
//
// Run it with deploy/peers/run.
package peers
