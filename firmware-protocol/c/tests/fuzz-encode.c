/* libFuzzer on the encoder: any samples come back unchanged from a packet that is never longer than plain. */
#include <stdlib.h>
#include <string.h>

#include "../clampline.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  if (size < 4) return 0;
  const uint32_t channels = 1u + (data[0] & 3u);
  const uint8_t order = (uint8_t)(data[1] % 17u);
  const uint32_t count = (uint32_t)((size - 2) / 2 / channels);
  if (count == 0) return 0;
  clampline_packet packet = {.node_id = 1, .boot_id = 2, .nominal_rate_millihz = 1000000,
                             .frame_count = (uint16_t)count, .channel_count = (uint8_t)channels};
  clampline_packet read;
  const size_t values = (size_t)count * channels;
  const size_t bound = clampline_packet_bound(channels, count);
  int16_t *frames = malloc(2 * values);
  int16_t *back = malloc(2 * values);
  uint8_t *bytes = malloc(bound);
  if (frames == NULL || back == NULL || bytes == NULL) abort();
  memcpy(frames, data + 2, 2 * values);
  const int32_t length = clampline_encode_samples(&packet, frames, order, bytes, bound);
  if (length < 0 || (size_t)length > bound) abort();
  if (clampline_decode_samples(bytes, (size_t)length, &read, back, values) != (int32_t)values) abort();
  if (memcmp(frames, back, 2 * values) != 0) abort();
  free(frames);
  free(back);
  free(bytes);
  return 0;
}
