#include "firmware.h"

static uint64_t clock_us(void *context) {
  const firmware *fw = context;
  return fw->board.clock_us(fw->board.context);
}

static int32_t publish(void *context, uint8_t kind, const uint8_t *bytes, size_t length, uint32_t ticket) {
  return clampline_mqtt_publish(&((firmware *)context)->mqtt, kind, bytes, length, ticket);
}

static uint32_t random_boot_id(const firmware *fw) {
  const uint32_t id = fw->board.random(fw->board.context);
  return id != 0 ? id : 1;
}

/* What waits in the ring belongs to the old settings. */
static int32_t begin_again(firmware *fw) {
  fw->taken = fw->put;
  fw->last_read_us = 0;
  return clampline_node_new_boot(&fw->node, random_boot_id(fw), fw->sensor.rate_millihz,
                                 fw->sensor.full_scale_um_per_s2);
}

static int32_t command(void *context, const clampline_command *command, uint32_t *value) {
  firmware *fw = context;
  int32_t result = 0;
  switch (command->action) {
    case CLAMPLINE_START:
    case CLAMPLINE_STOP:
      fw->running = command->action == CLAMPLINE_START;
      fw->last_read_us = 0;
      return accelerometer_run(&fw->sensor, fw->running);
    case CLAMPLINE_SET_RATE:
      result = accelerometer_set_rate(&fw->sensor, command->argument);
      *value = fw->sensor.rate_millihz;
      return result < 0 ? result : begin_again(fw);
    case CLAMPLINE_SET_RANGE:
      result = accelerometer_set_range(&fw->sensor, command->argument);
      *value = fw->sensor.full_scale_um_per_s2;
      return result < 0 ? result : begin_again(fw);
    case CLAMPLINE_IDENTIFY:
      fw->lamp_until_us = clock_us(fw) + (uint64_t)command->argument * 1000000u;
      *value = command->argument;
      return 0;
    default:
      return CLAMPLINE_E_UNSUPPORTED;
  }
}

int32_t firmware_init(firmware *fw, const board *board, const clampline_stream *stream, uint64_t node_id,
                      const char *site, const char *token) {
  const accelerometer_bus bus = {board->context, board->transfer};
  fw->board = *board;
  fw->put = fw->taken = fw->missed = 0;
  fw->last_read_us = fw->lamp_until_us = 0;
  fw->lamp_on = fw->button = false;
  int32_t result = accelerometer_init(&fw->sensor, &bus);
  if (result < 0) return result;
  const clampline_node_config config = {
      .port = {fw, clock_us, publish, command},
      .packet = {.node_id = node_id,
                 .boot_id = random_boot_id(fw),
                 .nominal_rate_millihz = fw->sensor.rate_millihz,
                 .full_scale_um_per_s2 = fw->sensor.full_scale_um_per_s2,
                 .channel_count = ACCELEROMETER_AXES,
                 .layout = {CLAMPLINE_AXIS_X, CLAMPLINE_AXIS_Y, CLAMPLINE_AXIS_Z}},
      .frames_per_packet = FIRMWARE_FRAMES,
      .max_order = 12,
      .in_flight = 8,
      .frames = fw->frames,
      .memory = fw->queue,
      .memory_size = sizeof fw->queue,
  };
  result = clampline_node_init(&fw->node, &config);
  if (result < 0) return result;
  clampline_status *status = &fw->node.status;
  status->reset_cause = 1;
  status->resolution_bits = 13;
  status->sensor_part = "ADXL345";
  status->firmware_version = "board-example 1";
  status->sensor_bandwidth_hz = 1600;
  status->noise_density_um_per_s2_per_rt_hz = 3800; /* about 390 ug per root hertz, typical: data sheet, from memory */
  result = clampline_mqtt_init(&fw->mqtt, stream, &fw->node, site, token);
  if (result < 0) return result;
  fw->running = true;
  return accelerometer_run(&fw->sensor, true);
}

static uint32_t frames_in(const firmware *fw, uint64_t us) {
  /* us x rate / 10^9, in 32 bits: more than a second lost counts as one. */
  const uint32_t short_us = us < 1000000u ? (uint32_t)us : 1000000u;
  return short_us * (fw->sensor.rate_millihz / 1000u / 25u) / 40000u;
}

void firmware_sample(firmware *fw) {
  if (!fw->running) return;
  if (fw->put - fw->taken == FIRMWARE_BATCHES) {
    fw->missed++; /* left in the FIFO: if it runs over, that is seen and told */
    return;
  }
  firmware_batch *batch = &fw->batches[fw->put % FIRMWARE_BATCHES];
  const uint64_t now = clock_us(fw);
  if (accelerometer_read(&fw->sensor, &batch->read) < 0 || batch->read.count == 0) return;
  const uint32_t period_ns = (uint32_t)(1000000000u / (fw->sensor.rate_millihz / 1000u));
  batch->clock_us = now - (uint64_t)batch->read.count * period_ns / 1000u;
  batch->lost = 0;
  if (batch->read.overrun && fw->last_read_us != 0) {
    const uint32_t produced = frames_in(fw, now - fw->last_read_us);
    if (produced > batch->read.count) batch->lost = produced - batch->read.count;
  }
  fw->last_read_us = now;
  fw->put = fw->put + 1;
}

void firmware_button(firmware *fw) { fw->button = true; }

/* Largest value of a batch, in mm/s2: how hard a tap was. */
static uint32_t peak_of(const firmware *fw, const accelerometer_batch *batch) {
  uint32_t peak = 0;
  for (uint32_t i = 0; i < batch->count * ACCELEROMETER_AXES; i++) {
    const int32_t value = batch->frames[i];
    const uint32_t size = (uint32_t)(value < 0 ? -value : value);
    if (size > peak) peak = size;
  }
  return peak * (fw->sensor.full_scale_um_per_s2 / 1000u >> 3) >> 12; /* 18 bits + 15 bits - 3: no overflow */
}

static void take_batches(firmware *fw) {
  while (fw->taken != fw->put) {
    const firmware_batch *batch = &fw->batches[fw->taken % FIRMWARE_BATCHES];
    const uint16_t flags = batch->read.overrun ? CLAMPLINE_FLAG_OVERRUN : 0;
    (void)clampline_node_frames(&fw->node, batch->read.frames, batch->read.count, batch->clock_us, flags, batch->lost);
    if (batch->read.tap) (void)clampline_node_event(&fw->node, CLAMPLINE_TAP, 0, peak_of(fw, &batch->read));
    fw->taken = fw->taken + 1;
  }
}

void firmware_step(firmware *fw) {
  take_batches(fw);
  if (fw->button) {
    fw->button = false;
    (void)clampline_node_event(&fw->node, CLAMPLINE_NOISE_MARK, CLAMPLINE_NO_SENSOR, 0);
  }
  const uint64_t now = clock_us(fw);
  const bool lamp = now < fw->lamp_until_us && (now >> 18 & 1u) != 0; /* twice a second */
  if (lamp != fw->lamp_on) fw->board.lamp(fw->board.context, lamp);
  fw->lamp_on = lamp;
  clampline_node_poll(&fw->node);
}
