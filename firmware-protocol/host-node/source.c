#include "source.h"

#include <math.h>
#include <string.h>

static uint32_t little(const uint8_t *at, uint32_t bytes) {
  uint32_t value = 0;
  while (bytes > 0) value = value << 8 | at[--bytes];
  return value;
}

static bool refuse(sample_source *source, const char *path, const char *why) {
  fprintf(stderr, "%s: %s\n", path, why);
  source_close(source);
  return false;
}

bool source_open_wav(sample_source *source, const char *path) {
  uint8_t head[24];
  memset(source, 0, sizeof *source);
  source->file = fopen(path, "rb");
  if (source->file == NULL) return refuse(source, path, "cannot be opened");
  if (fread(head, 1, 12, source->file) != 12 || memcmp(head, "RIFF", 4) != 0 || memcmp(head + 8, "WAVE", 4) != 0) {
    return refuse(source, path, "is no WAV file");
  }
  while (fread(head, 1, 8, source->file) == 8) {
    const uint32_t length = little(head + 4, 4);
    if (memcmp(head, "data", 4) == 0 && source->channels != 0) {
      source->data_start = ftell(source->file);
      source->frames = length / (2 * source->channels);
      return source->frames > 0 || refuse(source, path, "holds no samples");
    }
    if (memcmp(head, "fmt ", 4) == 0) {
      if (length < 16 || fread(head, 1, 16, source->file) != 16) break;
      const uint32_t format = little(head, 2);
      if ((format != 1 && format != 0xfffe) || little(head + 14, 2) != 16) {
        return refuse(source, path, "is not 16-bit PCM: convert it first");
      }
      source->channels = little(head + 2, 2);
      source->rate_hz = little(head + 4, 4);
      if (source->channels < 1 || source->channels > 16 || source->rate_hz < 1 || source->rate_hz > 200000) {
        return refuse(source, path, "must have 1 to 16 channels and 1 to 200000 samples per second");
      }
      if (fseek(source->file, (long)(length - 16 + (length & 1)), SEEK_CUR) != 0) break;
    } else if (fseek(source->file, (long)(length + (length & 1)), SEEK_CUR) != 0) {
      break;
    }
  }
  return refuse(source, path, "ends before its samples");
}

bool source_open_raw(sample_source *source, const char *path, uint32_t channels, uint32_t rate_hz) {
  memset(source, 0, sizeof *source);
  source->channels = channels;
  source->rate_hz = rate_hz;
  source->file = fopen(path, "rb");
  if (source->file == NULL) return refuse(source, path, "cannot be opened");
  if (fseek(source->file, 0, SEEK_END) != 0) return refuse(source, path, "is no ordinary file");
  source->frames = (uint64_t)ftell(source->file) / (2 * channels);
  rewind(source->file);
  return source->frames > 0 || refuse(source, path, "holds no samples");
}

void source_generate(sample_source *source, uint32_t channels, uint32_t rate_hz) {
  memset(source, 0, sizeof *source);
  source->channels = channels;
  source->rate_hz = rate_hz;
}

/* xorshift64: any decent noise will do. */
static double noise(uint64_t *state) {
  *state ^= *state << 13;
  *state ^= *state >> 7;
  *state ^= *state << 17;
  return (double)(*state >> 11) / 9007199254740992.0 - 0.5;
}

static uint32_t generate(sample_source *source, int16_t *frames, uint32_t most) {
  const double shaft = 2 * 3.14159265358979323846 * 25;
  uint64_t state = source->read * 2654435761u + 88172645463325252u;
  for (uint32_t i = 0; i < most; i++) {
    const double t = (double)(source->read + i) / source->rate_hz;
    for (uint32_t c = 0; c < source->channels; c++) {
      const double gravity = c == 2 ? 2048 : 0;
      const double turn = 120 * sin(shaft * t + c) + 40 * sin(2 * shaft * t) + 15 * sin(7 * shaft * t + 2 * c);
      frames[i * source->channels + c] = (int16_t)lrint(gravity + turn + 30 * noise(&state));
    }
  }
  return most;
}

uint32_t source_read(sample_source *source, int16_t *frames, uint32_t most) {
  uint32_t got = 0;
  if (source->file == NULL) {
    got = generate(source, frames, most);
    source->read += got;
    return got;
  }
  while (got < most) {
    const uint64_t position = source->again ? source->read % source->frames : source->read;
    if (position >= source->frames) break;
    if (source->again && position == 0 && fseek(source->file, source->data_start, SEEK_SET) != 0) break;
    const uint64_t left = source->frames - position;
    const uint32_t wanted = left < most - got ? (uint32_t)left : most - got;
    uint8_t *const bytes = (uint8_t *)(frames + (size_t)got * source->channels);
    const uint32_t read = (uint32_t)fread(bytes, 2 * source->channels, wanted, source->file);
    for (size_t i = 0; i < (size_t)read * source->channels; i++) {
      frames[(size_t)got * source->channels + i] = (int16_t)little(bytes + 2 * i, 2);
    }
    got += read;
    source->read += read;
    if (read < wanted) break;
  }
  return got;
}

void source_close(sample_source *source) {
  if (source->file != NULL) fclose(source->file);
  source->file = NULL;
}
