/* Encodes one packet as often as asked: for counting instructions on the host. */
#include <stdlib.h>

#include "signals.h"

int main(int count, char **arguments) {
  static int16_t frames[3 * 512];
  static uint8_t bytes[4096];
  const clampline_packet packet = {.node_id = 1, .boot_id = 1, .nominal_rate_millihz = 3200000,
                                   .frame_count = 512, .channel_count = 3, .layout = {1, 2, 3}};
  signal_fill(SIGNAL_RESONANCE, frames, 512, 3);
  int32_t length = 1;
  for (int i = count > 1 ? atoi(arguments[1]) : 1; i > 0 && length > 0; i--) {
    length = clampline_encode_samples(&packet, frames, 12, bytes, sizeof bytes);
  }
  return length > 0 ? 0 : 1;
}
