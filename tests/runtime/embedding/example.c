/* A worklist in fifty lines: reads a compiled policy and an episode, adds what happens, and says what is due.
 *
 * usage: example POLICY.json RECORD.json        prints what is due, what a dressing change now would settle,
 * and what counts against once it is done
 */
#include <linelaw/linelaw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static char* read_file(const char* path, size_t* length) {
    FILE* file = fopen(path, "rb");
    char* text = NULL;
    long size = 0;
    if (file == NULL || fseek(file, 0, SEEK_END) != 0 || (size = ftell(file)) < 0) {
        fprintf(stderr, "cannot read %s\n", path);
        exit(2);
    }
    rewind(file);
    text = malloc((size_t)size + 1);
    *length = fread(text, 1, (size_t)size, file);
    fclose(file);
    return text;
}

static void stop(linelaw_error* error) {
    fprintf(stderr, "%s: %s %s\n", linelaw_error_code(error), linelaw_error_pointer(error),
            linelaw_error_message(error));
    linelaw_error_free(error);
    exit(2);
}

int main(int argc, char** argv) {
    static const char now[] = "2026-03-10T09:00:00-03:00";
    static const char change[] =
        "{\"type\": \"dressing_change\", \"at\": \"2026-03-10T09:00:00-03:00\", \"dressing\": "
        "\"transparent\"}";
    linelaw_error* error = NULL;
    linelaw_policy* policy;
    linelaw_episode* episode;
    const char* text;
    char* json;
    size_t length;

    if (argc != 3) return 2;
    json = read_file(argv[1], &length);
    policy = linelaw_policy_read(json, length, &error);
    free(json);
    if (policy == NULL) stop(error);

    json = read_file(argv[2], &length);
    episode = linelaw_episode_begin(policy, json, length, &error);
    free(json);
    linelaw_policy_free(policy); /* the episode keeps what it needs of it */
    if (episode == NULL) stop(error);

    if ((text = linelaw_episode_due(episode, now, &error)) == NULL) stop(error);
    printf("due\n%s", text);
    if ((text = linelaw_episode_would_change(episode, change, strlen(change), &error)) == NULL) stop(error);
    printf("would change\n%s", text);
    if (!linelaw_episode_add(episode, change, strlen(change), &error)) stop(error);
    if ((text = linelaw_episode_findings(episode, NULL, 0, &error)) == NULL) stop(error);
    printf("against\n%s", text);
    linelaw_episode_free(episode);
    return 0;
}
