#pragma once

#include <csetjmp>
#include <cstddef>
#include <cstdio>
#include <string>

#include <jerror.h>
#include <jpeglib.h>

namespace glassine::photo {

/// libjpeg reports a fatal error by calling back and must not be returned to: exceptions may not
/// pass through C code, so the way out is a jump to where the library was called from. No object
/// with a destructor may live in a function between the two.
struct JpegErrors {
    jpeg_error_mgr manager;
    std::jmp_buf jump;
    int fatal_code = 0;  ///< of <jerror.h>
    char text[JMSG_LENGTH_MAX] = {};
    void* owner = nullptr;
    void (*warned)(void* owner, int code) = nullptr;

    JpegErrors() {
        jpeg_std_error(&manager);
        manager.error_exit = [](j_common_ptr common) {
            JpegErrors& self = of(common);
            self.fatal_code = self.manager.msg_code;
            self.manager.format_message(common, self.text);
            std::longjmp(self.jump, 1);
        };
        manager.emit_message = [](j_common_ptr common, int level) {
            if (level >= 0) return;
            JpegErrors& self = of(common);
            ++self.manager.num_warnings;
            if (self.warned != nullptr) self.warned(self.owner, self.manager.msg_code);
        };
        manager.output_message = [](j_common_ptr) {};
    }
    JpegErrors(const JpegErrors&) = delete;
    JpegErrors& operator=(const JpegErrors&) = delete;

    static JpegErrors& of(j_common_ptr common) {
        return *reinterpret_cast<JpegErrors*>(common->err);
    }
};

}  // namespace glassine::photo
