/* Status and events, node to station; commands and journaled, station to node. */
#include "samples.h"
#include "wire.h"

void clampline_status_init(clampline_status *status, uint64_t node_id, uint32_t boot_id) {
  const clampline_status unknown = {
      .node_id = node_id,
      .boot_id = boot_id,
      .state = CLAMPLINE_OFFLINE,
      .buffer_fill_permille = CLAMPLINE_UNKNOWN_FILL,
      .temperature_centi_c = CLAMPLINE_UNKNOWN_TEMPERATURE,
      .signal_dbm = CLAMPLINE_UNKNOWN_SIGNAL,
      .battery_percent = CLAMPLINE_UNKNOWN_PERCENT,
  };
  *status = unknown;
}

/* Writes length and characters; bytes written, or 0 when the text is not allowed. */
static size_t put_text(uint8_t *out, const char *text) {
  size_t length = 0;
  for (; text != NULL && text[length] != 0; length++) {
    const char c = text[length];
    if (length == CLAMPLINE_MAX_TEXT || c < 0x20 || c > 0x7e) return 0;
    out[1 + length] = (uint8_t)c;
  }
  out[0] = (uint8_t)length;
  return 1 + length;
}

static bool status_valid(const clampline_status *s) {
  return s->state <= CLAMPLINE_ASLEEP && s->reset_cause <= 5 && s->time_source <= CLAMPLINE_TIME_REPLAY &&
         (s->battery_percent <= 100 || s->battery_percent == CLAMPLINE_UNKNOWN_PERCENT) &&
         s->node_clock_us <= CLAMPLINE_MAX_EXACT &&
         (s->buffer_fill_permille <= 1000 || s->buffer_fill_permille == CLAMPLINE_UNKNOWN_FILL) &&
         ((s->signal_dbm <= 0 && s->signal_dbm >= -126) || s->signal_dbm == CLAMPLINE_UNKNOWN_SIGNAL) &&
         s->resolution_bits <= 32 &&
         (s->nominal_rate_millihz == 0 || clampline_rate_valid(s->nominal_rate_millihz));
}

int32_t clampline_encode_status(const clampline_status *s, uint8_t *out, size_t out_size) {
  if (!status_valid(s)) return CLAMPLINE_E_BAD_ARGUMENT;
  if (out_size < CLAMPLINE_STATUS_BYTES_MAX) return CLAMPLINE_E_NO_SPACE;
  clampline_begin(out, CLAMPLINE_KIND_STATUS, s->node_id, s->boot_id);
  out[16] = s->state;
  out[17] = s->reset_cause;
  out[18] = s->time_source;
  out[19] = s->battery_percent;
  clampline_put(out + 20, s->node_clock_us, 8);
  clampline_put(out + 28, s->battery_millivolt, 2);
  clampline_put(out + 30, s->buffer_fill_permille, 2);
  clampline_put(out + 32, (uint16_t)s->temperature_centi_c, 2);
  out[34] = (uint8_t)s->signal_dbm;
  out[35] = s->resolution_bits;
  clampline_put(out + 36, s->next_status_s, 4);
  clampline_put(out + 40, s->next_sequence, 4);
  clampline_put(out + 44, s->dropped_packets, 4);
  clampline_put(out + 48, s->overruns, 4);
  clampline_put(out + 52, s->nominal_rate_millihz, 4);
  clampline_put(out + 56, s->full_scale_um_per_s2, 4);
  clampline_put(out + 60, s->noise_density_um_per_s2_per_rt_hz, 4);
  clampline_put(out + 64, s->sensor_bandwidth_hz, 4);
  const size_t firmware = put_text(out + 68, s->firmware_version);
  if (firmware == 0) return CLAMPLINE_E_BAD_ARGUMENT;
  const size_t part = put_text(out + 68 + firmware, s->sensor_part);
  if (part == 0) return CLAMPLINE_E_BAD_ARGUMENT;
  return clampline_seal(out, 68 + firmware + part);
}

int32_t clampline_encode_event(const clampline_event *e, uint8_t *out, size_t out_size) {
  if (e->event < CLAMPLINE_NOISE_MARK || e->event > CLAMPLINE_COMMAND_REFUSED ||
      e->time_source > CLAMPLINE_TIME_REPLAY || e->node_clock_us > CLAMPLINE_MAX_EXACT ||
      (e->sample > CLAMPLINE_MAX_EXACT && e->sample != CLAMPLINE_NO_SAMPLE) ||
      (e->sensor > 15 && e->sensor != CLAMPLINE_NO_SENSOR) || e->result > 0) {
    return CLAMPLINE_E_BAD_ARGUMENT;
  }
  if (out_size < CLAMPLINE_EVENT_BYTES) return CLAMPLINE_E_NO_SPACE;
  clampline_begin(out, CLAMPLINE_KIND_EVENT, e->node_id, e->boot_id);
  clampline_put(out + 16, e->event_count, 4);
  clampline_put(out + 20, e->node_clock_us, 8);
  clampline_put(out + 28, e->sample, 8);
  out[36] = e->time_source;
  out[37] = e->event;
  out[38] = e->sensor;
  out[39] = 0;
  clampline_put(out + 40, e->command_id, 2);
  clampline_put(out + 42, (uint16_t)e->result, 2);
  clampline_put(out + 44, e->value, 4);
  return clampline_seal(out, 48);
}

static bool argument_valid(uint32_t action, uint32_t argument) {
  switch (action) {
    case CLAMPLINE_START:
    case CLAMPLINE_STOP:
    case CLAMPLINE_REPORT:
      return argument == 0;
    case CLAMPLINE_SET_RATE:
      return clampline_rate_valid(argument);
    case CLAMPLINE_SET_RANGE:
      return argument != 0;
    case CLAMPLINE_IDENTIFY:
      return argument <= 600;
    default:
      return false;
  }
}

int32_t clampline_decode_command(const uint8_t *bytes, size_t length, uint64_t node_id, uint32_t boot_id,
                                 clampline_command *command) {
  const int32_t opened =
      clampline_open(bytes, length, CLAMPLINE_KIND_COMMAND, 28, CLAMPLINE_MAX_MESSAGE_BYTES);
  if (opened < 0) return opened;
  command->command_id = (uint16_t)clampline_get(bytes + 16, 2);
  command->action = bytes[18];
  command->argument = get32(bytes + 20);
  if (!argument_valid(command->action, command->argument)) return CLAMPLINE_E_BAD_FIELD;
  const uint32_t boot = get32(bytes + 12);
  if (clampline_get(bytes + 4, 8) != node_id || (boot != 0 && boot != boot_id)) return CLAMPLINE_E_NOT_FOR_US;
  return 0;
}

int32_t clampline_decode_journaled(const uint8_t *bytes, size_t length, uint64_t node_id,
                                   clampline_journaled *journaled) {
  const int32_t opened =
      clampline_open(bytes, length, CLAMPLINE_KIND_JOURNALED, 36, CLAMPLINE_MAX_MESSAGE_BYTES);
  if (opened < 0) return opened;
  journaled->boot_id = get32(bytes + 12);
  journaled->from_sequence = get32(bytes + 16);
  journaled->upto_sequence = get32(bytes + 20);
  journaled->upto_sample = clampline_get(bytes + 24, 8);
  if (journaled->from_sequence > journaled->upto_sequence) return CLAMPLINE_E_BAD_FIELD;
  if (journaled->upto_sample > CLAMPLINE_MAX_EXACT) return CLAMPLINE_E_BAD_FIELD;
  return clampline_get(bytes + 4, 8) == node_id ? 0 : CLAMPLINE_E_NOT_FOR_US;
}
