/*
 * MQTT 3.1.1 client for a node, for boards whose network gives a byte stream and nothing more: QoS 1, one
 * subscription, last will, keep alive. Joins a clampline_node to that stream; where a full MQTT library is there,
 * use it instead. No TLS: put it underneath where the board has it.
 *
 * Clauses cited as [MQTT-...] are those of the OASIS standard, MQTT Version 3.1.1.
 */
#ifndef CLAMPLINE_MQTT_H
#define CLAMPLINE_MQTT_H

#include "clampline_node.h"

#define CLAMPLINE_MQTT_WAITING 16
/* Holds any message of SPEC.md's station kinds with its topic and framing; longer ones are skipped. */
#define CLAMPLINE_MQTT_RECEIVE_BYTES 640
#define CLAMPLINE_MQTT_KEEP_ALIVE_S 20

typedef struct {
  void *context;
  /* Bytes that `write` would take now. */
  size_t (*room)(void *context);
  /* Takes all of them: they must be copied or sent before it returns. Negative: the connection is lost. */
  int32_t (*write)(void *context, const uint8_t *bytes, size_t length);
} clampline_stream;

typedef struct {
  clampline_stream stream;
  clampline_node *node;
  const char *site;
  const char *token;
  char id[17];         /* node id as text */
  uint64_t heard_us;   /* when the broker last said something */
  uint64_t pinged_us;
  uint32_t expected;   /* bytes of the packet being received, behind its fixed header */
  uint32_t received;   /* of those, so far */
  uint32_t refused;    /* the broker's reason for refusing the connection (CONNACK), 0: none */
  uint16_t next_id;
  uint8_t head;        /* first byte of the packet being received */
  uint8_t stage;
  uint8_t shift;
  bool ready;          /* the broker accepted connection and subscription */
  struct {
    uint32_t ticket;
    uint16_t id; /* 0: free */
  } waiting[CLAMPLINE_MQTT_WAITING];
  uint8_t buffer[CLAMPLINE_MQTT_RECEIVE_BYTES];
} clampline_mqtt;

/* `site` and `token` (at most 31 and 128 characters) must stay where they are. */
int32_t clampline_mqtt_init(clampline_mqtt *mqtt, const clampline_stream *stream, clampline_node *node,
                            const char *site, const char *token);
/* The stream has opened: says CONNECT. */
int32_t clampline_mqtt_opened(clampline_mqtt *mqtt);
/* The stream has closed, for whatever reason. */
void clampline_mqtt_closed(clampline_mqtt *mqtt);
/* Bytes have come. Negative: what came is not MQTT, or the broker refuses us (see `refused`): close the stream. */
int32_t clampline_mqtt_receive(clampline_mqtt *mqtt, const uint8_t *bytes, size_t length);
/* Keeps the connection alive; call once a second or more often. Negative: the broker is silent, close the stream. */
int32_t clampline_mqtt_poll(clampline_mqtt *mqtt);
/* For clampline_port.publish, with the clampline_mqtt as context. */
int32_t clampline_mqtt_publish(void *mqtt, uint8_t kind, const uint8_t *bytes, size_t length, uint32_t ticket);
/* Says goodbye, so that the last will is not sent; close the stream once it has gone out. */
void clampline_mqtt_goodbye(clampline_mqtt *mqtt);

#endif
