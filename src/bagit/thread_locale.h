#pragma once

#include <clocale>

namespace glassine::bagit {

/// The present thread's locale, while this lives. libarchive converts names to and from it.
class ThreadLocale {
  public:
    explicit ThreadLocale(const char* name)
        : here_(::newlocale(LC_ALL_MASK, name, nullptr)), before_(::uselocale(here_)) {}
    ThreadLocale(const ThreadLocale&) = delete;
    ThreadLocale& operator=(const ThreadLocale&) = delete;
    ~ThreadLocale() {
        ::uselocale(before_);
        if (here_ != locale_t{}) ::freelocale(here_);
    }

  private:
    locale_t here_;
    locale_t before_;
};

}  // namespace glassine::bagit
