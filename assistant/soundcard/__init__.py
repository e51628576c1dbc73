"""The sound card: what the microphone and the loudspeaker have in common, and the only place that knows sounddevice."""
