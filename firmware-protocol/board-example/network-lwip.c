#include "network-lwip.h"

enum { RETRY_US = 2000000 };

static size_t room(void *context) {
  const network *net = context;
  return net->open && net->pcb != NULL ? tcp_sndbuf(net->pcb) : 0;
}

static int32_t write_stream(void *context, const uint8_t *bytes, size_t length) {
  const network *net = context;
  if (length > UINT16_MAX || tcp_write(net->pcb, bytes, (u16_t)length, TCP_WRITE_FLAG_COPY) != ERR_OK) {
    return CLAMPLINE_E_HARDWARE;
  }
  return tcp_output(net->pcb) == ERR_OK ? 0 : CLAMPLINE_E_HARDWARE;
}

clampline_stream network_stream(network *net) {
  const clampline_stream stream = {net, room, write_stream};
  return stream;
}

static void forget(network *net) {
  net->pcb = NULL;
  net->open = false;
  clampline_mqtt_closed(net->mqtt);
}

/* Takes the connection down at once; inside a callback of lwIP the caller must then return ERR_ABRT. */
static void abandon(network *net) {
  struct tcp_pcb *pcb = net->pcb;
  forget(net);
  if (pcb != NULL) tcp_abort(pcb);
}

static void on_error(void *context, err_t error) {
  (void)error; /* lwIP has freed the connection already */
  forget(context);
}

static err_t on_connected(void *context, struct tcp_pcb *pcb, err_t error) {
  network *net = context;
  (void)pcb, (void)error; /* always ERR_OK today, says lwIP's documentation */
  net->open = true;
  if (clampline_mqtt_opened(net->mqtt) >= 0) return ERR_OK;
  abandon(net);
  return ERR_ABRT;
}

static err_t on_received(void *context, struct tcp_pcb *pcb, struct pbuf *data, err_t error) {
  network *net = context;
  int32_t result = data == NULL || error != ERR_OK ? CLAMPLINE_E_HARDWARE : 0; /* NULL: closed by the broker */
  for (const struct pbuf *part = data; part != NULL && result >= 0; part = part->next) {
    result = clampline_mqtt_receive(net->mqtt, part->payload, part->len);
  }
  if (data != NULL) {
    tcp_recved(pcb, data->tot_len);
    pbuf_free(data);
  }
  if (result >= 0) return ERR_OK;
  abandon(net);
  return ERR_ABRT;
}

static void dial(network *net) {
  net->pcb = tcp_new();
  if (net->pcb == NULL) return;
  tcp_arg(net->pcb, net);
  tcp_err(net->pcb, on_error);
  tcp_recv(net->pcb, on_received);
  tcp_nagle_disable(net->pcb); /* questions for the time must not wait */
  if (tcp_connect(net->pcb, &net->broker, net->port, on_connected) != ERR_OK) abandon(net);
}

void network_step(network *net, uint64_t now_us) {
  if (net->pcb == NULL && now_us >= net->next_try_us) {
    net->next_try_us = now_us + RETRY_US;
    dial(net);
  }
  if (net->open && clampline_mqtt_poll(net->mqtt) < 0) abandon(net);
}
