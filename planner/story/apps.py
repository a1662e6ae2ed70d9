"""The app of the record read back: the story of a file, who opened it, and what is asked after a complaint."""

from django.apps import AppConfig


class StoryConfig(AppConfig):
    name = "planner.story"
    label = "story"
    append_only = ("EmergencyOpening", "OpeningSeen", "Problem", "ProblemStep")
