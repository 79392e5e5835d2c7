/* The link on a plain socket and the core's own MQTT client: what a small board does, on an ordinary computer. */
#include <errno.h>
#include <fcntl.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "../c/clampline_mqtt.h"
#include "link.h"

enum { OUT_BYTES = 1 << 18, IN_BYTES = 2048, RETRY_US = 1000000 };

typedef struct {
  clampline_mqtt mqtt;
  int socket; /* -1: none */
  uint64_t next_try_us;
  size_t waiting; /* bytes in `out` that the socket has not taken yet */
  uint8_t out[OUT_BYTES];
} own_link;

uint64_t link_clock_us(void) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  return (uint64_t)now.tv_sec * 1000000u + (uint64_t)now.tv_nsec / 1000u;
}

static bool push(own_link *inner) {
  while (inner->waiting > 0) {
    const ssize_t sent = send(inner->socket, inner->out, inner->waiting, MSG_NOSIGNAL);
    if (sent < 0) return errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR;
    inner->waiting -= (size_t)sent;
    memmove(inner->out, inner->out + sent, inner->waiting);
  }
  return true;
}

static size_t stream_room(void *context) { return OUT_BYTES - ((own_link *)context)->waiting; }

static int32_t stream_write(void *context, const uint8_t *bytes, size_t length) {
  own_link *inner = context;
  if (length > OUT_BYTES - inner->waiting) return CLAMPLINE_E_NO_SPACE;
  memcpy(inner->out + inner->waiting, bytes, length);
  inner->waiting += length;
  return push(inner) ? 0 : CLAMPLINE_E_HARDWARE;
}

bool link_open(mqtt_link *link) {
  if (link->ca_file != NULL) {
    fprintf(stderr, "--ca needs the program built with libmosquitto\n");
    return false;
  }
  own_link *inner = calloc(1, sizeof(own_link));
  if (inner == NULL) return false;
  const clampline_stream stream = {inner, stream_room, stream_write};
  inner->socket = -1;
  link->inner = inner;
  return clampline_mqtt_init(&inner->mqtt, &stream, link->node, link->site, link->token) == 0;
}

static void drop(mqtt_link *link, const char *why) {
  own_link *inner = link->inner;
  fprintf(stderr, "%s:%d: %s\n", link->host, link->port, why);
  if (inner->socket >= 0) close(inner->socket);
  inner->socket = -1;
  inner->waiting = 0;
  clampline_mqtt_closed(&inner->mqtt);
  if (inner->mqtt.refused != 0) {
    fprintf(stderr, "broker refused the connection: code %u\n", (unsigned)inner->mqtt.refused);
    /* Bad credentials, not authorised: MQTT 3.1.1, table 3.1. */
    link->refused = inner->mqtt.refused == 4 || inner->mqtt.refused == 5;
  }
}

/* Opens socket and connection; NULL, or what went wrong. */
static const char *dial(const mqtt_link *link) {
  own_link *inner = link->inner;
  char port[8];
  struct addrinfo *found = NULL;
  struct addrinfo hints;
  const int one = 1;
  memset(&hints, 0, sizeof hints);
  hints.ai_socktype = SOCK_STREAM;
  snprintf(port, sizeof port, "%d", link->port);
  if (getaddrinfo(link->host, port, &hints, &found) != 0) return "unknown host";
  inner->socket = socket(found->ai_family, found->ai_socktype, found->ai_protocol);
  const bool open = inner->socket >= 0 && connect(inner->socket, found->ai_addr, found->ai_addrlen) == 0;
  const int error = errno;
  freeaddrinfo(found);
  if (!open) return strerror(error);
  (void)setsockopt(inner->socket, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
  (void)fcntl(inner->socket, F_SETFL, O_NONBLOCK);
  return clampline_mqtt_opened(&inner->mqtt) < 0 ? "connection lost" : NULL;
}

/* Moves bytes both ways; NULL, or what went wrong. */
static const char *move_bytes(const mqtt_link *link, int wait_ms) {
  own_link *inner = link->inner;
  uint8_t bytes[IN_BYTES];
  struct pollfd wait = {inner->socket, (short)(POLLIN | (inner->waiting > 0 ? POLLOUT : 0)), 0};
  (void)poll(&wait, 1, wait_ms);
  if (!push(inner)) return "connection lost";
  const ssize_t got = recv(inner->socket, bytes, sizeof bytes, 0);
  if (got == 0) return "closed by the broker";
  if (got < 0 && errno != EAGAIN && errno != EWOULDBLOCK && errno != EINTR) return strerror(errno);
  if (got > 0 && clampline_mqtt_receive(&inner->mqtt, bytes, (size_t)got) < 0) return "refused, or no MQTT";
  return clampline_mqtt_poll(&inner->mqtt) < 0 ? "the broker is silent" : NULL;
}

void link_work(mqtt_link *link, int wait_ms) {
  own_link *inner = link->inner;
  const uint64_t now = link_clock_us();
  const char *trouble = NULL;
  if (inner->socket >= 0) {
    trouble = move_bytes(link, wait_ms);
  } else if (now >= inner->next_try_us) {
    inner->next_try_us = now + RETRY_US;
    trouble = dial(link);
  } else {
    const struct timespec pause = {wait_ms / 1000, (long)(wait_ms % 1000) * 1000000};
    nanosleep(&pause, NULL);
  }
  if (trouble != NULL) drop(link, trouble);
}

int32_t link_publish(mqtt_link *link, uint8_t kind, const uint8_t *bytes, size_t length, uint32_t ticket) {
  own_link *inner = link->inner;
  return clampline_mqtt_publish(&inner->mqtt, kind, bytes, length, ticket);
}

void link_close(mqtt_link *link) {
  own_link *inner = link->inner;
  if (inner->socket >= 0) {
    clampline_mqtt_goodbye(&inner->mqtt);
    (void)push(inner);
    close(inner->socket);
  }
  free(inner);
}
