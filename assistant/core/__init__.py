"""The pure rooms: no clock, file, thread, random number or device. Time is a field of an event."""
