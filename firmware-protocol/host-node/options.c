#include "options.h"

#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char help[] =
    "A Clampline sensor node on an ordinary computer: samples from a file or a generator, published over MQTT.\n"
    "\n"
    "  --site NAME          site of the station (needed)\n"
    "  --id HEX             node id, 16 hex digits (needed)\n"
    "  --host NAME          broker, default 127.0.0.1\n"
    "  --port N             default 1883\n"
    "  --ca FILE            use TLS and trust this certificate\n"
    "  --wav FILE           samples from a 16-bit PCM file, at its rate\n"
    "  --raw FILE           samples from a file of interleaved little-endian int16\n"
    "  --rate HZ            of --raw or the generator, default 3200\n"
    "  --channels N         of --raw or the generator, default 3\n"
    "  --full-scale M/S2    acceleration of a digital 32768, default 156.9064 (16 g)\n"
    "  --rate-error X       true rate is nominal x (1 + X), within -0.1 to 0.1\n"
    "  --again              start over at the end of the file\n"
    "  --seconds N          stop after so long\n"
    "  --frames N           frames in a packet, default a fifth of a second, at most 1024\n"
    "  --order N            taps of prediction, 0 to 16, default 12; 255: plain samples\n"
    "  --memory KIB         store-and-forward memory, default 4096\n"
    "  --until-journaled    keep each packet until the station says that it is on disk\n"
    "\n"
    "The token given at enrolment is read from the environment variable CLAMPLINE_TOKEN.\n"
    "SIGUSR1 sets a noise mark, SIGUSR2 reports a tap, SIGINT and SIGTERM end it once all is delivered.\n";

static bool complain(const char *text) {
  fprintf(stderr, "%s (--help lists the options)\n", text);
  return false;
}

static const struct option names[] = {
    {"site", 1, NULL, 's'},  {"id", 1, NULL, 'i'},      {"host", 1, NULL, 'h'},       {"port", 1, NULL, 'p'},
    {"ca", 1, NULL, 'C'},    {"wav", 1, NULL, 'w'},     {"raw", 1, NULL, 'r'},        {"rate", 1, NULL, 'R'},
    {"channels", 1, NULL, 'c'}, {"full-scale", 1, NULL, 'F'}, {"rate-error", 1, NULL, 'e'}, {"again", 0, NULL, 'a'},
    {"seconds", 1, NULL, 'S'}, {"frames", 1, NULL, 'f'}, {"order", 1, NULL, 'o'},     {"memory", 1, NULL, 'm'},
    {"until-journaled", 0, NULL, 'j'}, {"help", 0, NULL, '?'}, {NULL, 0, NULL, 0}};

static void take(host_options *options, int name, const char *value) {
  switch (name) {
    case 's': options->site = value; break;
    case 'i': options->id = value; break;
    case 'h': options->host = value; break;
    case 'p': options->port = atoi(value); break;
    case 'C': options->ca_file = value; break;
    case 'w': options->wav = value; break;
    case 'r': options->raw = value; break;
    case 'R': options->rate_hz = (uint32_t)atol(value); break;
    case 'c': options->channels = (uint32_t)atol(value); break;
    case 'F': options->full_scale = atof(value); break;
    case 'e': options->rate_error = atof(value); break;
    case 'a': options->again = true; break;
    case 'S': options->seconds = atof(value); break;
    case 'f': options->frames = (uint32_t)atol(value); break;
    case 'o': options->order = (uint8_t)atoi(value); break;
    case 'm': options->memory_kib = (uint32_t)atol(value); break;
    default: options->until_journaled = true; break;
  }
}

bool options_read(host_options *options, int count, char **arguments) {
  const host_options defaults = {.host = "127.0.0.1", .port = 1883, .rate_hz = 3200, .channels = 3,
                                 .full_scale = 156.9064, .order = 12, .memory_kib = 4096};
  *options = defaults;
  for (int name; (name = getopt_long(count, arguments, "", names, NULL)) != -1;) {
    if (name == '?') {
      fputs(help, stderr);
      return false;
    }
    take(options, name, optarg);
  }
  options->token = getenv("CLAMPLINE_TOKEN");
  if (optind < count) return complain("unknown argument");
  if (options->site == NULL || options->site[0] == 0 || strlen(options->site) > 31) return complain("--site is needed");
  if (options->id == NULL || strlen(options->id) != 16 || strspn(options->id, "0123456789abcdef") != 16) {
    return complain("--id must be 16 lower-case hex digits");
  }
  options->node_id = strtoull(options->id, NULL, 16);
  if (options->token == NULL) return complain("set CLAMPLINE_TOKEN to the token given at enrolment");
  if (options->wav != NULL && options->raw != NULL) return complain("give --wav or --raw, not both");
  if (options->port < 1 || options->port > 65535) return complain("--port must be 1 to 65535");
  if (options->channels < 1 || options->channels > 16) return complain("--channels must be 1 to 16");
  if (options->rate_hz < 1 || options->rate_hz > 200000) return complain("--rate must be 1 to 200000");
  if (!(options->full_scale >= 0 && options->full_scale < 4294.967)) {
    return complain("--full-scale must be 0 (not known) to 4294");
  }
  if (!(options->rate_error >= -0.1 && options->rate_error <= 0.1)) return complain("--rate-error must be -0.1 to 0.1");
  if (options->frames > 4096) return complain("--frames must be 1 to 4096");
  if (options->order > 16 && options->order != 255) return complain("--order must be 0 to 16, or 255");
  if (options->memory_kib < 64 || options->memory_kib > 1000000) return complain("--memory must be 64 to 1000000");
  return true;
}
