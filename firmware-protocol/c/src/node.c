#include "../clampline_node.h"

#include "wire.h"

enum {
  TIME_BURST = 5, /* exchanges one second apart after connecting: SPEC.md, section 6 */
  TIME_BURST_GAP_US = 1000000,
  TIME_GAP_US = 30000000,
  STATUS_GAP_S = 60,
  STATUS_PROMISE_S = 150,
  REWIND_GAP_US = 10000000,
  NO_COMMAND = 65536
};

static uint64_t now_of(const clampline_node *node) {
  return node->config.port.clock_us(node->config.port.context);
}

static void start_counting(clampline_node *node) {
  clampline_packet *packet = &node->config.packet;
  packet->sequence = 0;
  node->next_sample = 0;
  node->next_event = 0;
  node->filled = 0;
  node->time_asked = 0;
  node->next_time_us = 0;
  node->next_status_us = 0;
  packet->flags = CLAMPLINE_FLAG_CAPTURE_START;
  clampline_time_init(&node->time, packet->node_id, packet->boot_id);
  node->status.boot_id = packet->boot_id;
}

int32_t clampline_node_init(clampline_node *node, const clampline_node_config *config) {
  const clampline_packet *packet = &config->packet;
  if (config->frames == NULL || config->in_flight == 0 || packet->boot_id == 0 ||
      config->frames_per_packet < 1 || config->frames_per_packet > CLAMPLINE_MAX_FRAMES ||
      packet->channel_count < 1 || packet->channel_count > CLAMPLINE_MAX_CHANNELS) {
    return CLAMPLINE_E_BAD_ARGUMENT;
  }
  if (config->memory_size < 2 * (clampline_packet_bound(packet->channel_count, config->frames_per_packet) + 16)) {
    return CLAMPLINE_E_NO_SPACE;
  }
  clampline_zero(node, sizeof *node);
  node->config = *config;
  node->last_command = NO_COMMAND;
  clampline_status_init(&node->status, packet->node_id, packet->boot_id);
  node->status.state = CLAMPLINE_SAMPLING;
  node->status.next_status_s = STATUS_PROMISE_S;
  start_counting(node);
  return clampline_queue_init(&node->queue, config->memory, config->memory_size);
}

int32_t clampline_node_flush(clampline_node *node) {
  if (node->filled == 0) return 0;
  clampline_packet *packet = &node->config.packet;
  packet->frame_count = node->filled;
  packet->time_source = clampline_time_source(&node->time);
  const size_t bound = clampline_packet_bound(packet->channel_count, node->filled);
  uint8_t *room;
  const uint32_t held_before = node->queue.ticket;
  int32_t result = clampline_queue_reserve(&node->queue, bound, &room);
  /* Messages in flight that gave way will still be acknowledged: they no longer count as in flight. */
  const uint32_t given_up = node->queue.ticket - held_before;
  node->sent -= given_up < node->sent ? given_up : node->sent;
  if (result == 0) {
    result = clampline_encode_samples(packet, node->config.frames, node->config.max_order, room, bound);
    if (result > 0) result = clampline_queue_commit(&node->queue, (size_t)result);
  }
  /* The counters go on even when the packet is lost: a hole must look like one. */
  packet->sequence++;
  packet->flags = 0;
  node->next_sample += node->filled;
  node->filled = 0;
  return result;
}

int32_t clampline_node_frames(clampline_node *node, const int16_t *frames, uint32_t count, uint64_t clock_us,
                              uint16_t flags, uint32_t lost) {
  clampline_packet *packet = &node->config.packet;
  const uint32_t channels = packet->channel_count;
  int32_t result = 0;
  if (lost > 0 || (flags & (CLAMPLINE_FLAG_OVERRUN | CLAMPLINE_FLAG_CAPTURE_START)) != 0) {
    result = clampline_node_flush(node); /* both flags speak of what lies in front of a packet */
    node->next_sample += lost;
    if ((flags & CLAMPLINE_FLAG_OVERRUN) != 0) node->status.overruns++;
  }
  packet->flags = (uint16_t)(packet->flags | flags);
  for (uint32_t i = 0; i < count; i++) {
    if (node->filled == 0) {
      packet->first_sample = node->next_sample;
      /* On from the first frame of this call at the nominal rate: a FIFO's length times 5 % is the error. */
      packet->node_clock_us = clock_us + (uint64_t)i * 1000000000u / packet->nominal_rate_millihz;
      packet->flags = (uint16_t)(packet->flags | (flags & CLAMPLINE_FLAG_OUT_OF_RANGE));
    }
    for (uint32_t c = 0; c < channels; c++) {
      node->config.frames[node->filled * channels + c] = frames[i * channels + c];
    }
    node->filled++;
    if (node->filled == node->config.frames_per_packet) {
      const int32_t flushed = clampline_node_flush(node);
      if (flushed < 0) result = flushed;
    }
  }
  return result < 0 ? result : 0;
}

static int32_t queue_event(clampline_node *node, clampline_event *event) {
  const clampline_packet *packet = &node->config.packet;
  event->node_id = packet->node_id;
  event->boot_id = packet->boot_id;
  event->node_clock_us = now_of(node);
  event->time_source = clampline_time_source(&node->time);
  event->event_count = node->next_event++;
  event->sample =
      node->status.state == CLAMPLINE_SAMPLING ? node->next_sample + node->filled : CLAMPLINE_NO_SAMPLE;
  uint8_t *room;
  const uint32_t held_before = node->queue.ticket;
  int32_t result = clampline_queue_reserve(&node->queue, CLAMPLINE_EVENT_BYTES, &room);
  const uint32_t given_up = node->queue.ticket - held_before;
  node->sent -= given_up < node->sent ? given_up : node->sent;
  if (result == 0) result = clampline_encode_event(event, room, CLAMPLINE_EVENT_BYTES);
  return result > 0 ? clampline_queue_commit(&node->queue, (size_t)result) : result;
}

int32_t clampline_node_event(clampline_node *node, uint8_t kind, uint8_t sensor, uint32_t value) {
  clampline_event event = {.event = kind, .sensor = sensor, .value = value};
  return queue_event(node, &event);
}

int32_t clampline_node_new_boot(clampline_node *node, uint32_t boot_id, uint32_t rate_millihz,
                                uint32_t full_scale_um_per_s2) {
  if (boot_id == 0) return CLAMPLINE_E_BAD_ARGUMENT;
  const int32_t result = clampline_node_flush(node);
  node->config.packet.boot_id = boot_id;
  node->config.packet.nominal_rate_millihz = rate_millihz;
  node->config.packet.full_scale_um_per_s2 = full_scale_um_per_s2;
  start_counting(node);
  return result < 0 ? result : 0;
}

int32_t clampline_node_sleep(clampline_node *node, uint32_t seconds) {
  const int32_t result = clampline_node_flush(node);
  node->status.state = CLAMPLINE_ASLEEP;
  node->status.next_status_s = seconds;
  node->next_status_us = 0;
  return result < 0 ? result : 0;
}

void clampline_node_wake(clampline_node *node) {
  node->status.state = CLAMPLINE_SAMPLING;
  node->status.next_status_s = STATUS_PROMISE_S;
  node->next_status_us = 0;
  node->config.packet.flags = CLAMPLINE_FLAG_CAPTURE_START;
}

void clampline_node_connected(clampline_node *node) {
  node->connected = true;
  node->sent = 0;
  node->time_asked = 0;
  node->next_time_us = 0;
  node->next_status_us = 0;
  clampline_queue_rewind(&node->queue);
}

void clampline_node_disconnected(clampline_node *node) {
  node->connected = false;
  node->time.open = false;
}

void clampline_node_acknowledged(clampline_node *node, uint32_t ticket) {
  if (ticket == CLAMPLINE_NO_TICKET) return;
  /* An acknowledgement for a message given up meanwhile was taken off `sent` when that happened. */
  if (ticket - node->queue.ticket > UINT32_MAX / 2) return;
  if (node->sent > 0) node->sent--;
  /* Of other messages no journaled message ever speaks. */
  if (node->config.until_journaled) {
    (void)clampline_queue_release_other(&node->queue, ticket);
  } else {
    (void)clampline_queue_release(&node->queue, ticket);
  }
}

static int32_t obey(clampline_node *node, const clampline_command *command) {
  if (command->command_id == node->last_command) return 0; /* QoS 1: the same one may come twice */
  node->last_command = command->command_id;
  uint32_t value = 0;
  int32_t result = 0;
  if (command->action == CLAMPLINE_REPORT) {
    node->next_status_us = 0;
  } else {
    result = node->config.port.command(node->config.port.context, command, &value);
    if (result == 0 && command->action == CLAMPLINE_STOP) {
      (void)clampline_node_flush(node);
      node->status.state = CLAMPLINE_STOPPED;
    }
    if (result == 0 && command->action == CLAMPLINE_START) {
      node->config.packet.flags = CLAMPLINE_FLAG_CAPTURE_START;
      node->status.state = CLAMPLINE_SAMPLING;
    }
    node->next_status_us = 0;
  }
  clampline_event event = {.event = result == 0 ? CLAMPLINE_COMMAND_DONE : CLAMPLINE_COMMAND_REFUSED,
                           .sensor = CLAMPLINE_NO_SENSOR,
                           .command_id = command->command_id,
                           .result = (int16_t)result,
                           .value = result == 0 ? value : 0};
  return queue_event(node, &event);
}

static int32_t hear_journaled(clampline_node *node, const clampline_journaled *journaled) {
  const int32_t lost = clampline_queue_journaled(&node->queue, journaled);
  const uint64_t now = now_of(node);
  /* Not at every such message: what was just sent again is still on its way. */
  if (node->config.until_journaled && lost > 0 && now >= node->next_rewind_us) {
    clampline_queue_rewind(&node->queue);
    node->next_rewind_us = now + REWIND_GAP_US;
    node->sent = 0;
  }
  return 0;
}

int32_t clampline_node_message(clampline_node *node, const uint8_t *bytes, size_t length) {
  const uint64_t now = now_of(node);
  const clampline_packet *packet = &node->config.packet;
  if (length < 20) return CLAMPLINE_E_TOO_SHORT;
  clampline_command command;
  clampline_journaled journaled;
  int32_t result;
  switch (bytes[3]) {
    case CLAMPLINE_KIND_TIME_ANSWER:
      return clampline_time_hear(&node->time, now, bytes, length);
    case CLAMPLINE_KIND_COMMAND:
      result = clampline_decode_command(bytes, length, packet->node_id, packet->boot_id, &command);
      return result < 0 ? result : obey(node, &command);
    case CLAMPLINE_KIND_JOURNALED:
      result = clampline_decode_journaled(bytes, length, packet->node_id, &journaled);
      return result < 0 ? result : hear_journaled(node, &journaled);
    default:
      return CLAMPLINE_E_BAD_KIND;
  }
}

static void send_time(clampline_node *node) {
  uint8_t bytes[CLAMPLINE_TIME_REQUEST_BYTES];
  const clampline_port *port = &node->config.port;
  const uint64_t now = now_of(node);
  const int32_t length = clampline_time_ask(&node->time, now, bytes, sizeof bytes);
  if (length < 0) return;
  if (port->publish(port->context, CLAMPLINE_KIND_TIME_REQUEST, bytes, (size_t)length, CLAMPLINE_NO_TICKET) < 0) {
    node->time.open = false;
    return;
  }
  if (node->time_asked < TIME_BURST) node->time_asked++;
  node->next_time_us = now + (node->time_asked < TIME_BURST ? TIME_BURST_GAP_US : TIME_GAP_US);
}

static void send_status(clampline_node *node, uint64_t now) {
  uint8_t bytes[CLAMPLINE_STATUS_BYTES_MAX];
  const clampline_port *port = &node->config.port;
  clampline_status *status = &node->status;
  status->node_clock_us = now;
  status->time_source = clampline_time_source(&node->time);
  status->buffer_fill_permille = clampline_queue_fill_permille(&node->queue);
  status->dropped_packets = node->queue.dropped;
  status->next_sequence = node->config.packet.sequence;
  status->nominal_rate_millihz = node->config.packet.nominal_rate_millihz;
  status->full_scale_um_per_s2 = node->config.packet.full_scale_um_per_s2;
  const int32_t length = clampline_encode_status(status, bytes, sizeof bytes);
  if (length < 0) return;
  if (port->publish(port->context, CLAMPLINE_KIND_STATUS, bytes, (size_t)length, CLAMPLINE_NO_TICKET) == 0) {
    node->next_status_us = now + (uint64_t)STATUS_GAP_S * 1000000u;
  }
}

void clampline_node_poll(clampline_node *node) {
  if (!node->connected) return;
  const clampline_port *port = &node->config.port;
  const uint64_t now = now_of(node);
  if (now >= node->next_status_us) send_status(node, now);
  if (now >= node->next_time_us) send_time(node);
  const uint8_t *message;
  uint32_t ticket;
  while (node->sent < node->config.in_flight) {
    const int32_t length = clampline_queue_next(&node->queue, &message, &ticket);
    if (length < 0) return;
    if (port->publish(port->context, message[3], message, (size_t)length, ticket) < 0) return;
    (void)clampline_queue_sent(&node->queue);
    node->sent++;
  }
}

int32_t clampline_node_will(const clampline_node *node, uint8_t *out, size_t out_size) {
  clampline_status will;
  clampline_status_init(&will, node->config.packet.node_id, node->config.packet.boot_id);
  return clampline_encode_status(&will, out, out_size);
}
