/*
 * The firmware on QEMU's mps2-an386 (Cortex-M4): everything is the code of a real node but the accelerometer,
 * whose registers are simulated, and the pins. Site, node id, token, port of the broker on this computer and
 * seconds to run come with the semihosting command line.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../firmware.h"
#include "../network-lwip.h"
#include "../simulated-accelerometer.h"
#include "ethernet.h"
#include "lwip/init.h"
#include "lwip/timeouts.h"
#include "netif/ethernet.h"

/* CMSDK timer 0: counts down at 25 MHz. */
#define TIMER_CONTROL (*(volatile uint32_t *)0x40000000)
#define TIMER_VALUE (*(volatile uint32_t *)0x40000004)
#define TIMER_RELOAD (*(volatile uint32_t *)0x40000008)

enum { TICKS_PER_US = 25, RATE_ERROR_PPM = 20000, SAMPLE_EVERY_US = 4000, COMMAND_BYTES = 256 };

static simulated_accelerometer part;
static firmware fw;
static network net;
static struct netif card;

static uint64_t clock_us(void *context) {
  static uint32_t last = UINT32_MAX;
  static uint64_t ticks;
  (void)context;
  const uint32_t now = TIMER_VALUE;
  ticks += last - now; /* asked far more often than the 171 s it takes to come round */
  last = now;
  return ticks / TICKS_PER_US;
}

u32_t sys_now(void) { return (u32_t)(clock_us(NULL) / 1000u); }

static int32_t transfer(void *context, const uint8_t *out, uint8_t *in, size_t length) {
  simulated_advance(context, clock_us(NULL));
  return simulated_transfer(context, out, in, length);
}

static uint32_t random_number(void *context) {
  (void)context;
  return (uint32_t)rand();
}

static void lamp(void *context, bool on) {
  (void)context;
  printf("lamp %s\n", on ? "on" : "off");
}

static int semihosting(int operation, void *argument) {
  register int r0 __asm("r0") = operation;
  register void *r1 __asm("r1") = argument;
  __asm volatile("bkpt 0xab" : "+r"(r0) : "r"(r1) : "memory");
  return r0;
}

int main(void) {
  static char line[COMMAND_BYTES];
  struct {
    char *text;
    int length;
  } block = {line, sizeof line};
  ip4_addr_t own, mask, gateway;
  int now_s = semihosting(0x11, NULL); /* SYS_TIME: another seed at each start */
  srand((unsigned)now_s);
  if (semihosting(0x15, &block) != 0) return 2; /* SYS_GET_CMDLINE */
  (void)strtok(line, " ");
  const char *site = strtok(NULL, " ");
  const char *id = strtok(NULL, " ");
  const char *token = strtok(NULL, " ");
  const char *port = strtok(NULL, " ");
  const char *seconds = strtok(NULL, " ");
  if (seconds == NULL) return 2;

  TIMER_RELOAD = UINT32_MAX;
  TIMER_VALUE = UINT32_MAX;
  TIMER_CONTROL = 1;
  lwip_init();
  /* QEMU's user network: this computer's loopback is 10.0.2.2. */
  IP4_ADDR(&own, 10, 0, 2, 15);
  IP4_ADDR(&mask, 255, 255, 255, 0);
  IP4_ADDR(&gateway, 10, 0, 2, 2);
  netif_add(&card, &own, &mask, &gateway, NULL, ethernet_init, ethernet_input);
  netif_set_default(&card);
  netif_set_up(&card);

  simulated_init(&part, RATE_ERROR_PPM);
  const board hardware = {&part, clock_us, transfer, random_number, lamp};
  net.mqtt = &fw.mqtt;
  net.port = (uint16_t)atoi(port);
  ip_addr_copy_from_ip4(net.broker, gateway);
  const clampline_stream stream = network_stream(&net);
  const int32_t started = firmware_init(&fw, &hardware, &stream, strtoull(id, NULL, 16), site, token);
  if (started < 0) {
    printf("cannot start: code %d\n", (int)started);
    return 1;
  }
  const uint64_t until_us = (uint64_t)atoi(seconds) * 1000000u;
  uint64_t next_us = 0;
  uint64_t tap_us = 1500000;
  for (uint64_t now = 0; now < until_us || (fw.node.queue.count > 0 && now < until_us + 10000000u); now = clock_us(NULL)) {
    if (now >= tap_us) {
      simulated_tap(&part);
      tap_us = UINT64_MAX;
    }
    if (now >= next_us && now < until_us) {
      firmware_sample(&fw);
      next_us = now + SAMPLE_EVERY_US;
    }
    firmware_step(&fw);
    ethernet_poll(&card);
    sys_check_timeouts();
    network_step(&net, now);
  }
  printf("%u packets, %u given up, %u left, %u readings missed\n", (unsigned)fw.node.config.packet.sequence,
         (unsigned)fw.node.queue.dropped, (unsigned)fw.node.queue.count, (unsigned)fw.missed);
  return fw.node.queue.count == 0 ? 0 : 1;
}
