/*
 * Host node: the node core on an ordinary computer. The station cannot tell it from a board: same packets,
 * same exchange of time, same store and forward.
 */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "link.h"
#include "options.h"
#include "source.h"

enum { FIFO_FRAMES = 32, WAIT_MS = 5, LAST_WAIT_US = 30000000, SENSOR_RATES = 5 };

typedef struct {
  mqtt_link link;
  clampline_node node;
  sample_source source;
  double rate_hz;      /* true one */
  double rate_error;
  uint64_t started_us; /* of the present boot id */
  uint64_t frames;     /* since then */
  bool sampling;
} host_node;

static volatile sig_atomic_t ending, marked, tapped;

static void on_signal(int number) {
  if (number == SIGUSR1) marked = 1;
  else if (number == SIGUSR2) tapped = 1;
  else ending = 1;
}

static uint32_t random_boot_id(void) {
  uint32_t id = 0;
  FILE *file = fopen("/dev/urandom", "rb");
  if (file == NULL || fread(&id, sizeof id, 1, file) != 1) id = (uint32_t)link_clock_us();
  if (file != NULL) fclose(file);
  return id != 0 ? id : 1;
}

static uint64_t port_clock(void *context) {
  (void)context;
  return link_clock_us();
}

static int32_t port_publish(void *context, uint8_t kind, const uint8_t *bytes, size_t length, uint32_t ticket) {
  return link_publish(&((host_node *)context)->link, kind, bytes, length, ticket);
}

static void restart_sampling(host_node *host) {
  host->started_us = link_clock_us();
  host->frames = 0;
}

/* The generator has the rates of a common sensor; a file has one. */
static int32_t set_rate(host_node *host, uint32_t wanted_millihz, uint32_t *value) {
  static const uint32_t rates_hz[SENSOR_RATES] = {800, 1600, 3200, 6400, 12800};
  if (host->source.file != NULL) return CLAMPLINE_E_UNSUPPORTED;
  uint32_t nearest = rates_hz[0];
  for (int i = 1; i < SENSOR_RATES; i++) {
    if (labs((long)rates_hz[i] - (long)(wanted_millihz / 1000)) < labs((long)nearest - (long)(wanted_millihz / 1000))) {
      nearest = rates_hz[i];
    }
  }
  host->source.rate_hz = nearest;
  host->rate_hz = nearest * (1 + host->rate_error);
  *value = nearest * 1000;
  const uint32_t full_scale = host->node.config.packet.full_scale_um_per_s2;
  const int32_t result = clampline_node_new_boot(&host->node, random_boot_id(), *value, full_scale);
  restart_sampling(host);
  return result;
}

static int32_t port_command(void *context, const clampline_command *command, uint32_t *value) {
  host_node *host = context;
  switch (command->action) {
    case CLAMPLINE_START:
      if (!host->sampling) restart_sampling(host);
      host->sampling = true;
      return 0;
    case CLAMPLINE_STOP:
      host->sampling = false;
      return 0;
    case CLAMPLINE_SET_RATE:
      return set_rate(host, command->argument, value);
    case CLAMPLINE_IDENTIFY:
      fprintf(stderr, "identify for %u s\a\n", (unsigned)command->argument);
      *value = command->argument;
      return 0;
    default:
      return CLAMPLINE_E_UNSUPPORTED;
  }
}

static bool open_source(host_node *host, const host_options *options) {
  bool opened = true;
  if (options->wav != NULL) opened = source_open_wav(&host->source, options->wav);
  else if (options->raw != NULL) opened = source_open_raw(&host->source, options->raw, options->channels, options->rate_hz);
  else source_generate(&host->source, options->channels, options->rate_hz);
  host->source.again = options->again;
  host->rate_error = options->rate_error;
  host->rate_hz = host->source.rate_hz * (1 + options->rate_error);
  return opened;
}

static bool open_node(host_node *host, const host_options *options) {
  uint32_t frames = options->frames;
  if (frames == 0) frames = host->source.rate_hz / 5 < 1024 ? host->source.rate_hz / 5 : 1024;
  if (frames == 0) frames = 1;
  const size_t memory_size = (size_t)options->memory_kib * 1024;
  clampline_node_config config = {
      .port = {host, port_clock, port_publish, port_command},
      .packet = {.node_id = options->node_id,
                 .boot_id = random_boot_id(),
                 .nominal_rate_millihz = host->source.rate_hz * 1000,
                 .full_scale_um_per_s2 = (uint32_t)(options->full_scale * 1e6 + 0.5),
                 .channel_count = (uint8_t)host->source.channels},
      .frames_per_packet = (uint16_t)frames,
      .max_order = options->order,
      .in_flight = LINK_IN_FLIGHT - 4, /* leaves room for status and time */
      .until_journaled = options->until_journaled,
      .frames = malloc(2 * frames * host->source.channels),
      .memory = malloc(memory_size),
      .memory_size = memory_size,
  };
  /* Three channels are one sensor's axes; any other number are sensors of one axis. */
  for (uint32_t i = 0; i < host->source.channels; i++) {
    config.packet.layout[i] =
        host->source.channels == 3 ? (uint8_t)(CLAMPLINE_AXIS_X + i) : (uint8_t)(i << 4 | CLAMPLINE_AXIS_SINGLE);
  }
  const int32_t result = config.memory == NULL ? CLAMPLINE_E_NO_SPACE : clampline_node_init(&host->node, &config);
  if (result < 0) fprintf(stderr, "cannot start: code %d; try more --memory or fewer --frames\n", (int)result);
  host->node.status.firmware_version = "host-node 1";
  host->node.status.resolution_bits = 16;
  host->node.status.reset_cause = 1;
  return result == 0;
}

/* Hands over the frames that are due, in portions as a sensor's FIFO gives them; false at the end. */
static bool sample(host_node *host) {
  int16_t fifo[FIFO_FRAMES * CLAMPLINE_MAX_CHANNELS];
  const uint64_t elapsed_us = link_clock_us() - host->started_us;
  while (host->sampling && (double)(host->frames + FIFO_FRAMES) <= (double)elapsed_us * 1e-6 * host->rate_hz) {
    const uint32_t count = source_read(&host->source, fifo, FIFO_FRAMES);
    const uint64_t first_us = host->started_us + (uint64_t)((double)host->frames * 1e6 / host->rate_hz);
    if (count > 0) (void)clampline_node_frames(&host->node, fifo, count, first_us, 0, 0);
    host->frames += count;
    if (count < FIFO_FRAMES) return false;
  }
  return true;
}

/* Delivers what is left; true when the broker has acknowledged everything. */
static bool finish(host_node *host) {
  (void)clampline_node_flush(&host->node);
  host->node.status.state = CLAMPLINE_STOPPED;
  host->node.next_status_us = 0;
  const uint64_t last_us = link_clock_us() + LAST_WAIT_US;
  while ((host->node.queue.count > 0 || host->node.next_status_us == 0) && link_clock_us() < last_us &&
         !host->link.refused) {
    clampline_node_poll(&host->node);
    link_work(&host->link, WAIT_MS);
  }
  link_work(&host->link, 50);
  return host->node.queue.count == 0;
}

int main(int count, char **arguments) {
  static host_node host;
  host_options options;
  if (!options_read(&options, count, arguments) || !open_source(&host, &options) || !open_node(&host, &options)) {
    return 2;
  }
  struct sigaction action;
  memset(&action, 0, sizeof action);
  action.sa_handler = on_signal;
  sigaction(SIGINT, &action, NULL);
  sigaction(SIGTERM, &action, NULL);
  sigaction(SIGUSR1, &action, NULL);
  sigaction(SIGUSR2, &action, NULL);
  host.link.site = options.site;
  host.link.id = options.id;
  host.link.token = options.token;
  host.link.host = options.host;
  host.link.port = options.port;
  host.link.ca_file = options.ca_file;
  host.link.node = &host.node;
  if (!link_open(&host.link)) return 2;
  host.sampling = true;
  restart_sampling(&host);
  const uint64_t began_us = host.started_us;
  bool more = true;
  while (more && !ending && !host.link.refused) {
    more = sample(&host);
    if (options.seconds > 0 && (double)(link_clock_us() - began_us) * 1e-6 >= options.seconds) more = false;
    if (marked) (void)clampline_node_event(&host.node, CLAMPLINE_NOISE_MARK, CLAMPLINE_NO_SENSOR, 0);
    if (tapped) (void)clampline_node_event(&host.node, CLAMPLINE_TAP, 0, 100000);
    marked = tapped = 0;
    clampline_node_poll(&host.node);
    link_work(&host.link, WAIT_MS);
  }
  const bool delivered = finish(&host);
  link_close(&host.link);
  source_close(&host.source);
  fprintf(stderr, "%s: %u packets, %u given up, %u not delivered\n", options.id, (unsigned)host.node.config.packet.sequence,
          (unsigned)host.node.queue.dropped, (unsigned)host.node.queue.count);
  free(host.node.config.frames);
  free(host.node.config.memory);
  return delivered && !host.link.refused && host.node.queue.dropped == 0 ? 0 : 3;
}
