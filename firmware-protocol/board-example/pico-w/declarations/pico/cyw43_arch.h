#include <stdbool.h>
#include <stdint.h>
typedef struct {
  int state;
} cyw43_t;
extern cyw43_t cyw43_state;
enum { CYW43_WL_GPIO_LED_PIN = 0, CYW43_ITF_STA = 0, CYW43_LINK_UP = 3, CYW43_AUTH_WPA2_AES_PSK = 0x00400004 };
int cyw43_arch_init(void);
void cyw43_arch_enable_sta_mode(void);
int cyw43_arch_wifi_connect_async(const char *ssid, const char *pw, uint32_t auth);
int cyw43_tcpip_link_status(cyw43_t *self, int itf);
int cyw43_wifi_get_rssi(cyw43_t *self, int32_t *rssi);
void cyw43_arch_poll(void);
void cyw43_arch_gpio_put(unsigned int wl_gpio, bool value);
