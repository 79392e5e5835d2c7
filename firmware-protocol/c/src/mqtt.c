#include "../clampline_mqtt.h"

#include "wire.h"

enum {
  CONNECT = 0x10,
  CONNACK = 0x20,
  PUBLISH = 0x30,
  PUBACK = 0x40,
  SUBSCRIBE = 0x82,
  SUBACK = 0x90,
  PINGREQ = 0xc0,
  PINGRESP = 0xd0,
  DISCONNECT = 0xe0,
  RETAIN = 1,
  QOS_1 = 2,
  QOS_MASK = 6,
  MAX_TOPIC = 96,
  MAX_TOKEN = 128,
  SECOND_US = 1000000
};

/* Stages of receiving: first byte, its length of 1 to 4 bytes, then that many bytes. */
enum { AT_HEAD, AT_LENGTH, AT_BODY };

static size_t length_of(const char *text) {
  size_t length = 0;
  while (text[length] != 0) length++;
  return length;
}

static uint8_t *append(uint8_t *to, const void *from, size_t length) {
  const uint8_t *bytes = from;
  while (length-- > 0) *to++ = *bytes++;
  return to;
}

/* A length of two bytes, most significant first, and as many bytes: section 1.5.3. */
static uint8_t *append_string(uint8_t *to, const void *from, size_t length) {
  *to++ = (uint8_t)(length >> 8);
  *to++ = (uint8_t)(length & 255u);
  return append(to, from, length);
}

/* "Remaining length": 7 bits a byte, least significant first: section 2.2.3. */
static uint8_t *append_length(uint8_t *to, size_t length) {
  do {
    *to++ = (uint8_t)((length & 127u) | (length > 127 ? 128u : 0u));
    length >>= 7;
  } while (length > 0);
  return to;
}

/* clampline/<site>/<direction>/<id>/<last>; `to` holds MAX_TOPIC bytes. */
static size_t topic_of(const clampline_mqtt *mqtt, const char *direction, const char *last, uint8_t *to) {
  const char *const parts[] = {"clampline/", mqtt->site, direction, mqtt->id, "/", last};
  uint8_t *at = to;
  for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) at = append(at, parts[i], length_of(parts[i]));
  return (size_t)(at - to);
}

static size_t node_topic(const clampline_mqtt *mqtt, uint8_t kind, uint8_t *to) {
  static const char names[][8] = {"samples", "status", "time", "event"};
  return topic_of(mqtt, "/node/", names[kind - 1], to);
}

static uint64_t now_of(const clampline_mqtt *mqtt) {
  return mqtt->node->config.port.clock_us(mqtt->node->config.port.context);
}

static int32_t send(const clampline_mqtt *mqtt, const uint8_t *bytes, size_t length) {
  if (mqtt->stream.room(mqtt->stream.context) < length) return CLAMPLINE_E_NO_SPACE;
  return mqtt->stream.write(mqtt->stream.context, bytes, length);
}

int32_t clampline_mqtt_init(clampline_mqtt *mqtt, const clampline_stream *stream, clampline_node *node,
                            const char *site, const char *token) {
  if (length_of(site) < 1 || length_of(site) > 31 || length_of(token) > MAX_TOKEN) return CLAMPLINE_E_BAD_ARGUMENT;
  clampline_zero(mqtt, sizeof *mqtt);
  mqtt->stream = *stream;
  mqtt->node = node;
  mqtt->site = site;
  mqtt->token = token;
  mqtt->next_id = 1;
  for (uint32_t i = 0; i < 16; i++) {
    const uint32_t digit = (uint32_t)(node->config.packet.node_id >> (60 - 4 * i)) & 15u;
    mqtt->id[i] = (char)(digit < 10 ? '0' + digit : 'a' + digit - 10);
  }
  return 0;
}

int32_t clampline_mqtt_opened(clampline_mqtt *mqtt) {
  /* Protocol "MQTT", level 4; user name, password, will retained with QoS 1, clean session: section 3.1.2. */
  static const uint8_t protocol[] = {0, 4, 'M', 'Q', 'T', 'T', 4, 0xee, 0, CLAMPLINE_MQTT_KEEP_ALIVE_S};
  uint8_t will[CLAMPLINE_STATUS_BYTES_MAX];
  uint8_t topic[MAX_TOPIC];
  uint8_t packet[5 + sizeof protocol + 2 * 18 + 2 + MAX_TOPIC + 2 + sizeof will + 2 + MAX_TOKEN];
  const size_t token_length = length_of(mqtt->token);
  const size_t topic_length = node_topic(mqtt, CLAMPLINE_KIND_STATUS, topic);
  const int32_t will_length = clampline_node_will(mqtt->node, will, sizeof will);
  if (will_length < 0) return will_length;
  mqtt->stage = AT_HEAD;
  mqtt->refused = 0;
  mqtt->heard_us = mqtt->pinged_us = now_of(mqtt);
  uint8_t *at = packet;
  *at++ = CONNECT;
  at = append_length(at, sizeof protocol + 2 * 18 + 2 + topic_length + 2 + (size_t)will_length + 2 + token_length);
  at = append(at, protocol, sizeof protocol);
  at = append_string(at, mqtt->id, 16);
  at = append_string(at, topic, topic_length);
  at = append_string(at, will, (size_t)will_length);
  at = append_string(at, mqtt->id, 16);
  at = append_string(at, mqtt->token, token_length);
  return send(mqtt, packet, (size_t)(at - packet));
}

void clampline_mqtt_closed(clampline_mqtt *mqtt) {
  mqtt->ready = false;
  for (uint32_t i = 0; i < CLAMPLINE_MQTT_WAITING; i++) mqtt->waiting[i].id = 0;
  clampline_node_disconnected(mqtt->node);
}

static uint16_t take_id(clampline_mqtt *mqtt) {
  for (;;) {
    const uint16_t id = mqtt->next_id;
    mqtt->next_id = (uint16_t)(id == 65535 ? 1 : id + 1);
    bool used = false;
    for (uint32_t i = 0; i < CLAMPLINE_MQTT_WAITING; i++) used = used || mqtt->waiting[i].id == id;
    if (!used) return id;
  }
}

int32_t clampline_mqtt_publish(void *context, uint8_t kind, const uint8_t *bytes, size_t length, uint32_t ticket) {
  clampline_mqtt *mqtt = context;
  uint32_t slot = 0;
  if (!mqtt->ready) return CLAMPLINE_E_HARDWARE;
  while (slot < CLAMPLINE_MQTT_WAITING && mqtt->waiting[slot].id != 0) slot++;
  if (slot == CLAMPLINE_MQTT_WAITING) return CLAMPLINE_E_NO_SPACE;
  uint8_t head[1 + 4 + 2 + MAX_TOPIC + 2];
  uint8_t topic[MAX_TOPIC];
  const size_t topic_length = node_topic(mqtt, kind, topic);
  uint8_t *at = head;
  *at++ = (uint8_t)(PUBLISH | QOS_1 | (kind == CLAMPLINE_KIND_STATUS ? RETAIN : 0));
  at = append_length(at, 2 + topic_length + 2 + length);
  at = append_string(at, topic, topic_length);
  const uint16_t id = take_id(mqtt);
  *at++ = (uint8_t)(id >> 8);
  *at++ = (uint8_t)(id & 255u);
  /* Both parts or neither: half a packet would spoil the stream. */
  if (mqtt->stream.room(mqtt->stream.context) < (size_t)(at - head) + length) return CLAMPLINE_E_NO_SPACE;
  if (send(mqtt, head, (size_t)(at - head)) < 0 || send(mqtt, bytes, length) < 0) return CLAMPLINE_E_HARDWARE;
  mqtt->waiting[slot].id = id;
  mqtt->waiting[slot].ticket = ticket;
  return 0;
}

static int32_t subscribe(clampline_mqtt *mqtt) {
  uint8_t packet[2 + 2 + 2 + MAX_TOPIC + 1];
  uint8_t topic[MAX_TOPIC];
  const size_t length = topic_of(mqtt, "/to/", "+", topic);
  const uint16_t id = take_id(mqtt);
  packet[0] = SUBSCRIBE;
  packet[1] = (uint8_t)(2 + 2 + length + 1);
  packet[2] = (uint8_t)(id >> 8);
  packet[3] = (uint8_t)(id & 255u);
  uint8_t *at = append_string(packet + 4, topic, length);
  *at++ = 1; /* QoS 1 */
  return send(mqtt, packet, (size_t)(at - packet));
}

static int32_t on_publish(clampline_mqtt *mqtt) {
  const uint8_t *body = mqtt->buffer;
  const uint32_t stored = mqtt->expected < sizeof mqtt->buffer ? mqtt->expected : sizeof mqtt->buffer;
  const bool wants_answer = (mqtt->head & QOS_MASK) != 0;
  if (stored < 2) return CLAMPLINE_E_BAD_LENGTH;
  const uint32_t topic_end = 2u + ((uint32_t)body[0] << 8 | body[1]);
  const uint32_t start = topic_end + (wants_answer ? 2u : 0u);
  if (start > stored) return CLAMPLINE_E_BAD_LENGTH;
  /* One too long to hold is acknowledged all the same, or it would come for ever. */
  if (mqtt->expected <= sizeof mqtt->buffer) {
    (void)clampline_node_message(mqtt->node, body + start, mqtt->expected - start);
  }
  if (!wants_answer) return 0;
  const uint8_t answer[4] = {PUBACK, 2, body[topic_end], body[topic_end + 1]};
  return send(mqtt, answer, sizeof answer);
}

static int32_t on_puback(clampline_mqtt *mqtt) {
  if (mqtt->expected != 2) return CLAMPLINE_E_BAD_LENGTH;
  const uint16_t id = (uint16_t)(mqtt->buffer[0] << 8 | mqtt->buffer[1]);
  for (uint32_t i = 0; i < CLAMPLINE_MQTT_WAITING; i++) {
    if (id == 0 || mqtt->waiting[i].id != id) continue;
    mqtt->waiting[i].id = 0;
    clampline_node_acknowledged(mqtt->node, mqtt->waiting[i].ticket);
  }
  return 0;
}

static int32_t on_packet(clampline_mqtt *mqtt) {
  switch (mqtt->head & 0xf0) {
    case CONNACK:
      if (mqtt->expected != 2) return CLAMPLINE_E_BAD_LENGTH;
      mqtt->refused = mqtt->buffer[1];
      return mqtt->refused != 0 ? CLAMPLINE_E_HARDWARE : subscribe(mqtt);
    case SUBACK:
      /* [MQTT-3.9.3-2]: 0x80 says that the subscription was refused. */
      if (mqtt->expected != 3) return CLAMPLINE_E_BAD_LENGTH;
      if (mqtt->buffer[2] == 0x80) return CLAMPLINE_E_HARDWARE;
      mqtt->ready = true;
      clampline_node_connected(mqtt->node);
      return 0;
    case PUBLISH:
      return on_publish(mqtt);
    case PUBACK:
      return on_puback(mqtt);
    case PINGRESP:
      return 0;
    default:
      return CLAMPLINE_E_BAD_KIND; /* nothing else may come from a broker to a client like this */
  }
}

int32_t clampline_mqtt_receive(clampline_mqtt *mqtt, const uint8_t *bytes, size_t length) {
  for (size_t i = 0; i < length; i++) {
    const uint8_t byte = bytes[i];
    if (mqtt->stage == AT_HEAD) {
      mqtt->head = byte;
      mqtt->expected = mqtt->received = 0;
      mqtt->shift = 0;
      mqtt->stage = AT_LENGTH;
      continue;
    }
    if (mqtt->stage == AT_LENGTH) {
      mqtt->expected |= (uint32_t)(byte & 127u) << mqtt->shift;
      mqtt->shift = (uint8_t)(mqtt->shift + 7);
      if ((byte & 128u) != 0) {
        if (mqtt->shift > 21) return CLAMPLINE_E_BAD_LENGTH; /* four bytes at most: section 2.2.3 */
        continue;
      }
      mqtt->stage = AT_BODY;
    } else {
      if (mqtt->received < sizeof mqtt->buffer) mqtt->buffer[mqtt->received] = byte;
      mqtt->received++;
    }
    if (mqtt->received < mqtt->expected) continue;
    mqtt->stage = AT_HEAD;
    mqtt->heard_us = now_of(mqtt);
    const int32_t result = on_packet(mqtt);
    if (result < 0) return result;
  }
  return 0;
}

int32_t clampline_mqtt_poll(clampline_mqtt *mqtt) {
  static const uint8_t ping[2] = {PINGREQ, 0};
  const uint64_t now = now_of(mqtt);
  const uint64_t keep_alive_us = (uint64_t)CLAMPLINE_MQTT_KEEP_ALIVE_S * SECOND_US;
  if (now - mqtt->heard_us > 2 * keep_alive_us) return CLAMPLINE_E_HARDWARE;
  if (!mqtt->ready || now - mqtt->heard_us < keep_alive_us / 2 || now - mqtt->pinged_us < keep_alive_us / 2) return 0;
  mqtt->pinged_us = now;
  return send(mqtt, ping, sizeof ping);
}

void clampline_mqtt_goodbye(clampline_mqtt *mqtt) {
  static const uint8_t goodbye[2] = {DISCONNECT, 0};
  (void)send(mqtt, goodbye, sizeof goodbye);
}
