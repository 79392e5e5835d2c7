/*
 * The firmware on a Raspberry Pi Pico W (RP2040, Cortex-M0+, Wi-Fi) with the kit of its maker, pico-sdk 1.5 or
 * later. WIFI_NAME, WIFI_PASSWORD, SITE, BROKER (its IPv4 address), BROKER_PORT and TOKEN come from CMakeLists.txt.
 */
#include "hardware/gpio.h"
#include "hardware/spi.h"
#include "pico/cyw43_arch.h"
#include "pico/rand.h"
#include "pico/stdlib.h"
#include "pico/unique_id.h"

#include "../firmware.h"
#include "../network-lwip.h"

enum {
  PIN_MISO = 16,
  PIN_SELECT = 17,
  PIN_CLOCK = 18,
  PIN_MOSI = 19,
  PIN_BUTTON = 15, /* to ground */
  SPI_HZ = 5000000,
  SAMPLE_EVERY_MS = 5, /* the FIFO lasts 10 ms at 3200 samples a second */
  GAP_US = 5,          /* between two readings of the FIFO: data sheet, "FIFO" */
  WIFI_WAIT_MS = 30000,
  SIGNAL_EVERY_US = 10000000
};

static firmware fw;
static network net;

static uint64_t clock_us(void *context) {
  (void)context;
  return time_us_64();
}

static int32_t transfer(void *context, const uint8_t *out, uint8_t *in, size_t length) {
  (void)context;
  gpio_put(PIN_SELECT, false);
  const int done = spi_write_read_blocking(spi0, out, in, length);
  gpio_put(PIN_SELECT, true);
  busy_wait_us_32(GAP_US);
  return done == (int)length ? 0 : CLAMPLINE_E_HARDWARE;
}

static uint32_t random_number(void *context) {
  (void)context;
  return get_rand_32();
}

static void lamp(void *context, bool on) {
  (void)context;
  cyw43_arch_gpio_put(CYW43_WL_GPIO_LED_PIN, on);
}

/* From a timer's interrupt: goes on while the main loop encodes a packet. */
static bool sample(repeating_timer_t *timer) {
  (void)timer;
  firmware_sample(&fw);
  return true;
}

static void pressed(uint pin, uint32_t events) {
  (void)pin, (void)events;
  firmware_button(&fw);
}

static void open_pins(void) {
  spi_init(spi0, SPI_HZ);
  spi_set_format(spi0, 8, SPI_CPOL_1, SPI_CPHA_1, SPI_MSB_FIRST);
  gpio_set_function(PIN_MISO, GPIO_FUNC_SPI);
  gpio_set_function(PIN_CLOCK, GPIO_FUNC_SPI);
  gpio_set_function(PIN_MOSI, GPIO_FUNC_SPI);
  gpio_init(PIN_SELECT);
  gpio_put(PIN_SELECT, true);
  gpio_set_dir(PIN_SELECT, true);
  gpio_init(PIN_BUTTON);
  gpio_pull_up(PIN_BUTTON);
}

static uint64_t node_id(void) {
  pico_unique_board_id_t id;
  uint64_t value = 0;
  pico_get_unique_board_id(&id);
  for (int i = 0; i < 8; i++) value = value << 8 | id.id[i];
  return value;
}

int main(void) {
  static repeating_timer_t timer;
  const board hardware = {NULL, clock_us, transfer, random_number, lamp};
  const clampline_stream stream = network_stream(&net);
  uint64_t next_signal_us = 0;
  open_pins();
  if (cyw43_arch_init() != 0) return 1;
  cyw43_arch_enable_sta_mode();
  net.mqtt = &fw.mqtt;
  net.port = BROKER_PORT;
  if (!ipaddr_aton(BROKER, &net.broker)) return 1;
  while (firmware_init(&fw, &hardware, &stream, node_id(), SITE, TOKEN) < 0) {
    lamp(NULL, true); /* steady: the accelerometer does not answer, look at the wires */
    sleep_ms(1000);
  }
  add_repeating_timer_ms(-SAMPLE_EVERY_MS, sample, NULL, &timer);
  gpio_set_irq_enabled_with_callback(PIN_BUTTON, GPIO_IRQ_EDGE_FALL, true, pressed);
  for (;;) {
    /* Measuring goes on while the network is looked for; the queue keeps what it can. */
    if (cyw43_tcpip_link_status(&cyw43_state, CYW43_ITF_STA) != CYW43_LINK_UP) {
      (void)cyw43_arch_wifi_connect_async(WIFI_NAME, WIFI_PASSWORD, CYW43_AUTH_WPA2_AES_PSK);
      const uint64_t until_us = time_us_64() + (uint64_t)WIFI_WAIT_MS * 1000u;
      while (time_us_64() < until_us && cyw43_tcpip_link_status(&cyw43_state, CYW43_ITF_STA) != CYW43_LINK_UP) {
        cyw43_arch_poll();
        firmware_step(&fw);
      }
      continue;
    }
    cyw43_arch_poll();
    firmware_step(&fw);
    network_step(&net, time_us_64());
    if (time_us_64() >= next_signal_us) {
      int32_t dbm = 0;
      next_signal_us = time_us_64() + SIGNAL_EVERY_US;
      if (cyw43_wifi_get_rssi(&cyw43_state, &dbm) == 0 && dbm <= 0 && dbm >= -126) {
        fw.node.status.signal_dbm = (int8_t)dbm;
      }
    }
  }
}
