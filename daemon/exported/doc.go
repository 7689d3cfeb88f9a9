// Package exported writes a part of the record into one file that stands on its
// own, and reads such files again. It owns what is said in a file besides the
// frames: machine, software, config, how the alarms stood when the boot began,
// what people did, which alarms came, and the place in the record's chain. It
// judges nothing, and refuses files that aren't of this program.
//
// The engine remembers: delays, trends, what is normal for this machine. So a
// run's file begins where its boot began, with the lead-in up to the run, and
// says from when on the run is meant; replayed, it gives the verdicts of then
// to the last bit, for the run and not only nearly. Where a part of the lead-in
// is thinned away or damaged the file says so, and the verdicts may then
// differ. A file can be written without its lead-in, for a look at the figures;
// it says that too.
//
// # In CSV
//
// The format is that of sensors/csvfile; each thing is a line of the head, "#
// name: text". In Parquet the same stands in the file's metadata under
// "headroom." and the name; what is repeated there is one text, a line for
// each. See package parquetfile for the columns.
//
//	software, config, machine, boot   as in every recording; config is a hash
//	run          the run, such as 12.3; absent for a whole boot
//	from_ns      the first moment that is meant; rows before are the lead-in
//	to_ns        the last moment
//	lead_in      "whole", "damaged", or "none"
//	start_wall   what the clock said when the boot began
//	source       JSON: the file that an imported boot came from
//	kept         JSON string: how the alarms stood at the start of the boot
//	lost         JSON: a span whose frames are not here, and why; repeated
//	act          JSON of store.Act; repeated
//	event        JSON of store.Event: the alarms as they were told then; repeated
//	chain        the record's name, and the head of its chain for the run
//	config_text  JSON string of a line of the config in force; repeated. In
//	             Parquet it is the text itself.
package exported
