import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('practice', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='TrailEntry',
            fields=[
                ('sequence', models.BigIntegerField(primary_key=True, serialize=False)),
                ('at', models.DateTimeField()),
                ('actor_name', models.CharField(blank=True, max_length=200)),
                ('role', models.CharField(blank=True, max_length=200)),
                ('act', models.CharField(max_length=60)),
                ('subject_kind', models.CharField(blank=True, max_length=40)),
                ('subject_id', models.CharField(blank=True, max_length=40)),
                ('reason', models.TextField(blank=True)),
                ('digest', models.CharField(blank=True, max_length=64)),
                ('previous', models.CharField(blank=True, max_length=64)),
                ('hash', models.CharField(max_length=64, unique=True)),
                ('actor', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('sequence',),
                'indexes': [models.Index(fields=['office', 'sequence'], name='trail_by_office'), models.Index(fields=['subject_kind', 'subject_id', 'sequence'], name='trail_by_subject'), models.Index(fields=['actor', 'sequence'], name='trail_by_actor')],
                'constraints': [models.CheckConstraint(condition=models.Q(('sequence__gte', 1)), name='trail_sequence_from_one'), models.CheckConstraint(condition=models.Q(('act', ''), _negated=True), name='trail_act_named')],
            },
        ),
        migrations.CreateModel(
            name='TrailDetail',
            fields=[
                ('entry', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, primary_key=True, related_name='detail', serialize=False, to='trail.trailentry')),
                ('salt', models.CharField(max_length=32)),
                ('content', models.TextField()),
                ('office', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('entry',),
            },
        ),
    ]
