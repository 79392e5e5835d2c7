/* Where the host node's samples come from: a WAV file, raw 16-bit values, or a generator. */
#ifndef SOURCE_H
#define SOURCE_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

typedef struct {
  FILE *file;       /* NULL: the generator */
  long data_start;  /* where the samples begin in the file */
  uint64_t frames;  /* frames in the file; 0: endless */
  uint64_t read;    /* frames given so far */
  uint32_t channels;
  uint32_t rate_hz;
  bool again;       /* start over at the end of the file */
} sample_source;

/* Opens a WAV file of 16-bit PCM; false, with the reason on stderr, when it is none. */
bool source_open_wav(sample_source *source, const char *path);
/* Opens a file of interleaved little-endian int16 values. */
bool source_open_raw(sample_source *source, const char *path, uint32_t channels, uint32_t rate_hz);
/* A shaft at 25 Hz with gravity, harmonics and noise, on `channels` axes. */
void source_generate(sample_source *source, uint32_t channels, uint32_t rate_hz);
/* Reads up to `most` frames, interleaved; fewer only at the end, 0 behind it. */
uint32_t source_read(sample_source *source, int16_t *frames, uint32_t most);
void source_close(sample_source *source);

#endif
