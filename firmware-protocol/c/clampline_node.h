/*
 * The whole node above the hardware: fills packets from a sensor's frames, stores and forwards them,
 * exchanges time, publishes status and events, carries out commands. Hardware is reached through the three
 * functions of clampline_port alone. All calls must come from one thread (or with interrupts arranged so).
 */
#ifndef CLAMPLINE_NODE_H
#define CLAMPLINE_NODE_H

#include "clampline.h"

#define CLAMPLINE_NO_TICKET UINT32_MAX

typedef struct {
  void *context;
  /* Microseconds since some moment before init; must never step or run back. */
  uint64_t (*clock_us)(void *context);
  /*
   * Publishes with QoS 1 on the topic of this kind (samples, status, time, event; status retained). The bytes are
   * only valid during the call. 0 when taken; negative when the link is down or busy: it is tried again.
   * Once the broker has acknowledged it, call clampline_node_acknowledged with `ticket` (unless NO_TICKET).
   */
  int32_t (*publish)(void *context, uint8_t kind, const uint8_t *bytes, size_t length, uint32_t ticket);
  /*
   * Carries out start, stop, set rate, set range or identify. 0 and the value now set, or a negative code. After a
   * change of rate or range call clampline_node_new_boot from inside.
   */
  int32_t (*command)(void *context, const clampline_command *command, uint32_t *value);
} clampline_port;

typedef struct {
  clampline_port port;
  /* What goes into every packet: node_id, boot_id (random, not 0), rate, full scale, channels, layout, capture mode. */
  clampline_packet packet;
  uint16_t frames_per_packet; /* 1 to 8192; a packet at least every 0.5 s is asked for */
  uint8_t max_order;          /* of prediction; see clampline_encode_samples */
  uint8_t in_flight;          /* messages sent but not acknowledged, at most; 1 to 255 */
  /* Keep each packet until the station says that it is journaled, not only until the broker has it. */
  bool until_journaled;
  int16_t *frames;            /* room for frames_per_packet x channel_count values */
  uint8_t *memory;            /* of the queue; at least two packets of clampline_packet_bound + 8 bytes */
  size_t memory_size;
} clampline_node_config;

typedef struct {
  clampline_node_config config;
  clampline_queue queue;
  clampline_time time;
  /* Battery, temperature, signal, sensor part and the like: the caller keeps these up to date; the rest is filled in. */
  clampline_status status;
  uint64_t next_sample;
  uint64_t next_time_us;
  uint64_t next_status_us;
  uint64_t next_rewind_us;
  uint32_t next_event;
  uint32_t sent;       /* messages in flight */
  uint32_t last_command; /* id of the last one carried out; above 65535: none yet */
  uint16_t filled;     /* frames waiting in config.frames */
  uint8_t time_asked;  /* requests since connecting, up to the end of the burst */
  bool connected;
} clampline_node;

int32_t clampline_node_init(clampline_node *node, const clampline_node_config *config);
/*
 * Takes `count` frames as the sensor's FIFO gave them; `clock_us` is the node clock at the first of them, `flags`
 * are CLAMPLINE_FLAG_ bits that concern them. `lost` frames are known or estimated to be missing in front of them
 * (then flags should say OVERRUN). A full packet is encoded and queued at once.
 */
int32_t clampline_node_frames(clampline_node *node, const int16_t *frames, uint32_t count, uint64_t clock_us,
                              uint16_t flags, uint32_t lost);
/* Queues what waits, as a shorter packet: before sleeping, or after a trigger. */
int32_t clampline_node_flush(clampline_node *node);
/* A noise mark or a tap; `value` is the tap's peak in mm/s2. */
int32_t clampline_node_event(clampline_node *node, uint8_t event, uint8_t sensor, uint32_t value);
/* New boot id (random, not 0) with new rate and full scale; what waits is queued first. */
int32_t clampline_node_new_boot(clampline_node *node, uint32_t boot_id, uint32_t rate_millihz,
                                uint32_t full_scale_um_per_s2);

/*
 * Before a planned absence: queues what waits and announces that the next status comes within `seconds`. Poll until
 * everything is acknowledged, then disconnect properly, so that the last will is not sent.
 */
int32_t clampline_node_sleep(clampline_node *node, uint32_t seconds);
/* Sampling goes on after it; the sample counter stood still meanwhile, which the next packet says. */
void clampline_node_wake(clampline_node *node);

void clampline_node_connected(clampline_node *node);
void clampline_node_disconnected(clampline_node *node);
void clampline_node_acknowledged(clampline_node *node, uint32_t ticket);
/* A message came on one of the node's own topics. 0, or why it was ignored. */
int32_t clampline_node_message(clampline_node *node, const uint8_t *bytes, size_t length);
/* Sends what is due. Call often: at least every 100 ms, and after each of the calls above. */
void clampline_node_poll(clampline_node *node);
/* The message for the last will. */
int32_t clampline_node_will(const clampline_node *node, uint8_t *out, size_t out_size);

#endif
