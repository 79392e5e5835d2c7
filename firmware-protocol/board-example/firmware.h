/*
 * The firmware of a node, above its board: accelerometer -> node core -> MQTT over a byte stream. A board brings
 * the functions of `board` and a clampline_stream, and calls what is below.
 */
#ifndef FIRMWARE_H
#define FIRMWARE_H

#include "../c/clampline_mqtt.h"
#include "accelerometer.h"

typedef struct {
  void *context;
  uint64_t (*clock_us)(void *context);
  /* SPI, as accelerometer_bus has it. */
  int32_t (*transfer)(void *context, const uint8_t *out, uint8_t *in, size_t length);
  /* A random number, different after each start. */
  uint32_t (*random)(void *context);
  /* Lamp (or buzzer) that helps a person find the board. */
  void (*lamp)(void *context, bool on);
} board;

#ifndef FIRMWARE_FRAMES
#define FIRMWARE_FRAMES 512 /* in a packet: 0.16 s at 3200 samples/s */
#endif
#ifndef FIRMWARE_QUEUE_BYTES
#define FIRMWARE_QUEUE_BYTES (96 * 1024) /* about 7 s of three axes at 3200 samples/s */
#endif
#define FIRMWARE_BATCHES 16 /* of 16 frames: 80 ms at 3200 samples/s, longer than encoding a packet takes */

/* What one reading of the FIFO gave. */
typedef struct {
  uint64_t clock_us; /* at the first frame */
  uint32_t lost;     /* frames missing before it, by the clock */
  accelerometer_batch read;
} firmware_batch;

typedef struct {
  board board;
  accelerometer sensor;
  clampline_node node;
  clampline_mqtt mqtt;
  uint64_t last_read_us;
  uint64_t lamp_until_us;
  bool lamp_on;
  bool running;
  bool button;
  /* Ring between the interrupt that samples (writes `put`) and the main loop (writes `taken`). */
  volatile uint32_t put;
  volatile uint32_t taken;
  volatile uint32_t missed; /* readings thrown away because the main loop was too slow */
  firmware_batch batches[FIRMWARE_BATCHES];
  int16_t frames[FIRMWARE_FRAMES * ACCELEROMETER_AXES];
  uint8_t queue[FIRMWARE_QUEUE_BYTES];
} firmware;

/* `site` and `token` must stay where they are. Negative: the accelerometer does not answer, or bad arguments. */
int32_t firmware_init(firmware *fw, const board *board, const clampline_stream *stream, uint64_t node_id,
                      const char *site, const char *token);
/* From the watermark interrupt, or every 5 ms: empties the accelerometer's FIFO. */
void firmware_sample(firmware *fw);
/* From the button's interrupt: a noise mark. */
void firmware_button(firmware *fw);
/* The main loop's body: never waits. */
void firmware_step(firmware *fw);

#endif
