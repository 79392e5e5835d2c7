#include "link.h"

#include <mosquitto.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { KEEP_ALIVE_S = 20, RETRY_US = 1000000, TOPIC_BYTES = 128 };

typedef struct {
  struct mosquitto *client;
  uint64_t next_try_us;
  bool connected;
  struct {
    int mid;
    uint32_t ticket;
    bool used;
  } waiting[LINK_IN_FLIGHT]; /* published, not yet acknowledged */
} mosquitto_link;

uint64_t link_clock_us(void) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  return (uint64_t)now.tv_sec * 1000000u + (uint64_t)now.tv_nsec / 1000u;
}

static void topic_of(const mqtt_link *link, uint8_t kind, char *topic) {
  static const char *const names[] = {"samples", "status", "time", "event"};
  snprintf(topic, TOPIC_BYTES, "clampline/%s/node/%s/%s", link->site, link->id, names[kind - 1]);
}

static void on_connect(struct mosquitto *client, void *context, int result) {
  mqtt_link *link = context;
  if (result != 0) {
    fprintf(stderr, "broker refused the connection: %s\n", mosquitto_connack_string(result));
    link->refused = result == 4 || result == 5; /* bad credentials, not authorised: MQTT 3.1.1, table 3.1 */
    return;
  }
  char topic[TOPIC_BYTES];
  snprintf(topic, sizeof topic, "clampline/%s/to/%s/+", link->site, link->id);
  mosquitto_subscribe(client, NULL, topic, 1);
  ((mosquitto_link *)link->inner)->connected = true;
  clampline_node_connected(link->node);
}

static void on_message(struct mosquitto *client, void *context, const struct mosquitto_message *message) {
  (void)client;
  mqtt_link *link = context;
  const int32_t result = clampline_node_message(link->node, message->payload, (size_t)message->payloadlen);
  if (result < 0 && result != CLAMPLINE_E_STALE) {
    fprintf(stderr, "ignored a message on %s: code %d\n", message->topic, (int)result);
  }
}

static void on_publish(struct mosquitto *client, void *context, int mid) {
  (void)client;
  const mqtt_link *link = context;
  mosquitto_link *inner = link->inner;
  for (int i = 0; i < LINK_IN_FLIGHT; i++) {
    if (!inner->waiting[i].used || inner->waiting[i].mid != mid) continue;
    inner->waiting[i].used = false;
    clampline_node_acknowledged(link->node, inner->waiting[i].ticket);
    return;
  }
}

/*
 * A new client for each connection: the library would send its own copies of what was not acknowledged,
 * and the node core already keeps them.
 */
static void open_client(mqtt_link *link) {
  uint8_t will[CLAMPLINE_STATUS_BYTES_MAX];
  char topic[TOPIC_BYTES];
  mosquitto_link *inner = link->inner;
  if (inner->client != NULL) mosquitto_destroy(inner->client);
  for (int i = 0; i < LINK_IN_FLIGHT; i++) inner->waiting[i].used = false;
  inner->client = mosquitto_new(link->id, true, link);
  if (inner->client == NULL) return;
  mosquitto_connect_callback_set(inner->client, on_connect);
  mosquitto_message_callback_set(inner->client, on_message);
  mosquitto_publish_callback_set(inner->client, on_publish);
  mosquitto_max_inflight_messages_set(inner->client, 0); /* the node core bounds it */
  mosquitto_username_pw_set(inner->client, link->id, link->token);
  if (link->ca_file != NULL) mosquitto_tls_set(inner->client, link->ca_file, NULL, NULL, NULL, NULL);
  topic_of(link, CLAMPLINE_KIND_STATUS, topic);
  const int32_t length = clampline_node_will(link->node, will, sizeof will);
  mosquitto_will_set(inner->client, topic, length, will, 1, true);
  const int result = mosquitto_connect(inner->client, link->host, link->port, KEEP_ALIVE_S);
  if (result != MOSQ_ERR_SUCCESS) fprintf(stderr, "%s:%d: %s\n", link->host, link->port, mosquitto_strerror(result));
}

bool link_open(mqtt_link *link) {
  mosquitto_lib_init();
  link->inner = calloc(1, sizeof(mosquitto_link));
  return link->inner != NULL;
}

static void nap(int ms) {
  const struct timespec pause = {ms / 1000, (long)(ms % 1000) * 1000000};
  nanosleep(&pause, NULL);
}

void link_work(mqtt_link *link, int wait_ms) {
  mosquitto_link *inner = link->inner;
  if (inner->client != NULL && mosquitto_loop(inner->client, wait_ms, 1) == MOSQ_ERR_SUCCESS) return;
  if (inner->connected) {
    inner->connected = false;
    clampline_node_disconnected(link->node);
  }
  const uint64_t now = link_clock_us();
  if (now < inner->next_try_us) {
    nap(wait_ms);
    return;
  }
  inner->next_try_us = now + RETRY_US;
  open_client(link);
}

int32_t link_publish(mqtt_link *link, uint8_t kind, const uint8_t *bytes, size_t length, uint32_t ticket) {
  char topic[TOPIC_BYTES];
  mosquitto_link *inner = link->inner;
  int slot = 0;
  int mid = 0;
  if (!inner->connected) return CLAMPLINE_E_HARDWARE;
  while (slot < LINK_IN_FLIGHT && inner->waiting[slot].used) slot++;
  if (slot == LINK_IN_FLIGHT) return CLAMPLINE_E_HARDWARE;
  topic_of(link, kind, topic);
  const bool retain = kind == CLAMPLINE_KIND_STATUS;
  if (mosquitto_publish(inner->client, &mid, topic, (int)length, bytes, 1, retain) != MOSQ_ERR_SUCCESS) {
    return CLAMPLINE_E_HARDWARE;
  }
  if (ticket != CLAMPLINE_NO_TICKET) {
    inner->waiting[slot].used = true;
    inner->waiting[slot].mid = mid;
    inner->waiting[slot].ticket = ticket;
  }
  return 0;
}

void link_close(mqtt_link *link) {
  mosquitto_link *inner = link->inner;
  if (inner->connected) {
    mosquitto_disconnect(inner->client);
    (void)mosquitto_loop(inner->client, 100, 1);
  }
  if (inner->client != NULL) mosquitto_destroy(inner->client);
  free(inner);
  mosquitto_lib_cleanup();
}
