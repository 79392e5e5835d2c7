#include "link.h"

#include <stdio.h>
#include <time.h>

enum { KEEP_ALIVE_S = 20, RETRY_US = 1000000, TOPIC_BYTES = 128 };

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
  link->connected = true;
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
  mqtt_link *link = context;
  for (int i = 0; i < LINK_IN_FLIGHT; i++) {
    if (!link->waiting[i].used || link->waiting[i].mid != mid) continue;
    link->waiting[i].used = false;
    clampline_node_acknowledged(link->node, link->waiting[i].ticket);
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
  if (link->client != NULL) mosquitto_destroy(link->client);
  for (int i = 0; i < LINK_IN_FLIGHT; i++) link->waiting[i].used = false;
  link->client = mosquitto_new(link->id, true, link);
  if (link->client == NULL) return;
  mosquitto_connect_callback_set(link->client, on_connect);
  mosquitto_message_callback_set(link->client, on_message);
  mosquitto_publish_callback_set(link->client, on_publish);
  mosquitto_max_inflight_messages_set(link->client, 0); /* the node core bounds it */
  mosquitto_username_pw_set(link->client, link->id, link->token);
  if (link->ca_file != NULL) mosquitto_tls_set(link->client, link->ca_file, NULL, NULL, NULL, NULL);
  topic_of(link, CLAMPLINE_KIND_STATUS, topic);
  const int32_t length = clampline_node_will(link->node, will, sizeof will);
  mosquitto_will_set(link->client, topic, length, will, 1, true);
  const int result = mosquitto_connect(link->client, link->host, link->port, KEEP_ALIVE_S);
  if (result != MOSQ_ERR_SUCCESS) fprintf(stderr, "%s:%d: %s\n", link->host, link->port, mosquitto_strerror(result));
}

static void nap(int ms) {
  const struct timespec pause = {ms / 1000, (long)(ms % 1000) * 1000000};
  nanosleep(&pause, NULL);
}

void link_work(mqtt_link *link, int wait_ms) {
  if (link->client != NULL && mosquitto_loop(link->client, wait_ms, 1) == MOSQ_ERR_SUCCESS) return;
  if (link->connected) {
    link->connected = false;
    clampline_node_disconnected(link->node);
  }
  const uint64_t now = link_clock_us();
  if (now < link->next_try_us) {
    nap(wait_ms);
    return;
  }
  link->next_try_us = now + RETRY_US;
  open_client(link);
}

int32_t link_publish(mqtt_link *link, uint8_t kind, const uint8_t *bytes, size_t length, uint32_t ticket) {
  char topic[TOPIC_BYTES];
  int slot = 0;
  int mid = 0;
  if (!link->connected) return CLAMPLINE_E_HARDWARE;
  while (slot < LINK_IN_FLIGHT && link->waiting[slot].used) slot++;
  if (slot == LINK_IN_FLIGHT) return CLAMPLINE_E_HARDWARE;
  topic_of(link, kind, topic);
  const bool retain = kind == CLAMPLINE_KIND_STATUS;
  if (mosquitto_publish(link->client, &mid, topic, (int)length, bytes, 1, retain) != MOSQ_ERR_SUCCESS) {
    return CLAMPLINE_E_HARDWARE;
  }
  if (ticket != CLAMPLINE_NO_TICKET) {
    link->waiting[slot].used = true;
    link->waiting[slot].mid = mid;
    link->waiting[slot].ticket = ticket;
  }
  return 0;
}

void link_close(mqtt_link *link) {
  if (link->client == NULL) return;
  if (link->connected) {
    mosquitto_disconnect(link->client);
    (void)mosquitto_loop(link->client, 100, 1);
  }
  mosquitto_destroy(link->client);
  link->client = NULL;
  link->connected = false;
}
