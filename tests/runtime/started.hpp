// The program as a process that a test can stop at any moment, shut the output of, or leave too little room.
#pragma once

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <csignal>
#include <string>
#include <thread>
#include <vector>

namespace started {

struct Ended {
    bool killed = false;
    int status = -1;
    double seconds = 0;
};

// In place of a file: a pipe whose reader is gone.
inline const std::string closed_pipe = "|";

class Process {
  public:
    // `out` and `err` are files; `file_limit` is the size over which a file may not grow (0: none).
    Process(std::vector<std::string> arguments, const std::string& out, const std::string& err,
            rlim_t file_limit = 0) {
        begun_ = std::chrono::steady_clock::now();
        arguments.insert(arguments.begin(), LINELAW_PROGRAM);
        pid_ = ::fork();
        REQUIRE(pid_ >= 0);
        if (pid_ != 0) return;
        into(STDOUT_FILENO, out);
        into(STDERR_FILENO, err);
        if (file_limit != 0) {
            std::signal(SIGXFSZ, SIG_IGN);  // the write fails instead, as on a full disk
            const rlimit limit{file_limit, file_limit};
            ::setrlimit(RLIMIT_FSIZE, &limit);
        }
        std::vector<char*> argv;
        for (std::string& argument : arguments) argv.push_back(argument.data());
        argv.push_back(nullptr);
        ::execv(argv[0], argv.data());
        ::_exit(127);
    }
    Process(const Process&) = delete;
    Process& operator=(const Process&) = delete;

    Ended wait() {
        int status = 0;
        REQUIRE(::waitpid(pid_, &status, 0) == pid_);
        const std::chrono::duration<double> seconds = std::chrono::steady_clock::now() - begun_;
        return {WIFSIGNALED(status), WIFEXITED(status) ? WEXITSTATUS(status) : -1, seconds.count()};
    }
    // Killed `seconds` after it began, unless it has ended by itself before.
    Ended kill_after(double seconds) {
        std::this_thread::sleep_until(begun_ +
                                      std::chrono::duration_cast<std::chrono::steady_clock::duration>(
                                          std::chrono::duration<double>(seconds)));
        ::kill(pid_, SIGKILL);
        return wait();
    }

  private:
    static void into(int descriptor, const std::string& path) {
        if (path == closed_pipe) {
            int ends[2];
            if (::pipe(ends) != 0 || ::close(ends[0]) != 0 || ::dup2(ends[1], descriptor) < 0) ::_exit(126);
            return;
        }
        const int file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0644);
        if (file < 0 || ::dup2(file, descriptor) < 0) ::_exit(126);
        ::close(file);
    }
    pid_t pid_ = -1;
    std::chrono::steady_clock::time_point begun_;
};

}  // namespace started
